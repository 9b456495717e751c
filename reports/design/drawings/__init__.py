"""How a drawing is drawn: lines and letters on paper, dimensions, frames and the sheet around it.

Everything is put on a `paper.Paper`, in millimetres of the printed sheet. From there it becomes SVG
(`paper.svg_of`) or a page of a PDF (`pdf.pdf_of`), so both show the same. Lines follow ISO 128,
dimensions ISO 129-1, frames of tolerances ISO 1101, the block ISO 7200; all from memory.
"""
