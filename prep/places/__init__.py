"""Floor 4. Where on a part: points, rays, facings, seams, patterns of places, and regions of its skin.

What lives here: `Place`, and one way of finding places (or regions) a file.
What may be imported: errors, units, tables, geometry, physics.
What must not come in: steps, recipes, materials. A place never names a triangle: meshes are revised, places stay.
"""
