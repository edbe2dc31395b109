"""What a browser would send: a form's fields as they stand, with changes."""

from typing import Any

from django.test import Client
from django.urls import reverse


def typed(client: Client, page: str, /, *args: Any, **changes: str) -> dict[str, str]:
    """The fields of that page's form as they stand, with changes."""
    form = client.get(reverse(page, args=args)).context["form"]
    stands = {field.html_name: "" if field.value() is None else str(field.value()) for field in form}
    return stands | changes


def send(client: Client, page: str, /, *args: Any, **fields: str) -> Any:
    """Post fields to the page of that name; the answer is not followed."""
    return client.post(reverse(page, args=args), fields)
