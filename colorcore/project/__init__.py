"""What a maker has in hand: photos, hints and choices, kept as she goes."""

from colorcore.project.model import Choices, ProjectInfo, ProjectPhoto
from colorcore.project.store import Projects, default_path

__all__ = ["Choices", "ProjectInfo", "ProjectPhoto", "Projects", "default_path"]
