"""Floor 8. What a person reads: report.json on disk, the page, drawings, pictures, the shop sheet, the summary.

What lives here: drawing and wording of what a build recorded; nothing is decided here.
What may be imported: everything below; matplotlib, jinja2, numpy.
What must not come in: kernels, printing to a terminal, a display, OpenGL, a network.
"""
