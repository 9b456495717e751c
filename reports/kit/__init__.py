"""What every page is made with: words for numbers, charts as drawings, templates, files.

Jinja has its one home in `rendering`, with escaping on. A page holds everything it needs and its
policy allows no connection, so it opens anywhere and tells nobody. Charts are SVG, drawn when a
page is made: `svg` and `scales`.
"""
