from curriculum.models.materials import Acquisition, How, Keeping, Material, Placement, PutAway
from curriculum.models.themes import LearningCentre, RunWork, Theme, ThemeRun

__all__ = [
    "Acquisition",
    "How",
    "Keeping",
    "LearningCentre",
    "Material",
    "Placement",
    "PutAway",
    "RunWork",
    "Theme",
    "ThemeRun",
]
