from curriculum.models.materials import Acquisition, How, Keeping, Material, Placement, PutAway
from curriculum.models.observations import Observation
from curriculum.models.themes import LearningCentre, RunWork, Theme, ThemeRun

__all__ = [
    "Acquisition",
    "How",
    "Keeping",
    "LearningCentre",
    "Material",
    "Observation",
    "Placement",
    "PutAway",
    "RunWork",
    "Theme",
    "ThemeRun",
]
