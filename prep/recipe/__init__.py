"""Floor 6. A recipe, or `gate.yaml`, read into frozen models, or refused with every fault it has, each with its fix.

What lives here: the words of the recipe that belong to no step, those of `gate.yaml`, and the reading of both files.
What may be imported: every floor below; pydantic, ruamel.yaml.
What must not come in: meshes (only their paths), the running of steps, printing.
"""

from prep.recipe.models import Carried, CheckWanted, Outputs, PartWanted, Placement, Recipe
from prep.recipe.overrides import MaterialWanted, ProcessWanted
from prep.recipe.read import read_recipe

__all__ = [
    "Carried",
    "CheckWanted",
    "MaterialWanted",
    "Outputs",
    "PartWanted",
    "Placement",
    "ProcessWanted",
    "Recipe",
    "read_recipe",
]
