"""What every page is made with: words for numbers, an empty chart, templates, files.

Plotly has its one home in `charts` and Jinja in `rendering`, with escaping on. A page holds
everything it needs and its policy allows no connection, so it opens anywhere and tells nobody.
"""
