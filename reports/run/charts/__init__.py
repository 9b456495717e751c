"""Charts of the page of a run, drawn as SVG from its facts.

What compares the builds shown (ruler, front, power) spans the page and is drawn for three widths.
What shows the inside of one build is small, and all builds share its scales.
"""
