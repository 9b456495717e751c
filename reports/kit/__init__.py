"""What every page is made with: words for numbers, an empty chart, templates, files."""
