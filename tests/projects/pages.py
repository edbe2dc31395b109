"""What a browser would send: the fields of a plan's page as they stand, with changes."""

from typing import Any

from django.test import Client
from django.urls import reverse

from projects.models import Project


def typed_plan(client: Client, project: Project | None = None, **changes: Any) -> dict[str, str]:
    address = reverse("project-page", args=[project.pk]) if project else reverse("project-new")
    form = client.get(address).context["form"]
    data = {bound.html_name: "" if bound.value() is None else str(bound.value()) for bound in form}
    return data | {name: str(value) for name, value in changes.items()}
