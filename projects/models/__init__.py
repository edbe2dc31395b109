"""What is planned from the shelf."""

from projects.models.project import LossWay, Project
from projects.models.shade import ProjectShade

__all__ = ["LossWay", "Project", "ProjectShade"]
