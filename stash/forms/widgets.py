"""Controls drawn by functions, as Django's own templates draw them.

A form's controls are its dearest part: each is a template that includes others, and the plan has forty. What goes
into the page is the same to the letter but for white space (a test compares them); a widget that is not in
`DRAWN` is still drawn by its template.
"""

from collections.abc import Callable, Mapping
from html import escape
from typing import Any

from django.utils.safestring import SafeString, mark_safe

Context = Mapping[str, Any]


def safe(value: Any) -> str:
    """As `conditional_escape`, which spends four times as long to find out that no text is lazy."""
    return value.__html__() if hasattr(value, "__html__") else escape(str(value))


def _attributes(attrs: Mapping[str, Any]) -> str:
    """Those that are True stand by their name alone, those that are False not at all. Names come from code."""
    return "".join(
        f" {name}" if value is True else f' {name}="{safe(value)}"'
        for name, value in attrs.items()
        if value is not False
    )


def line(context: Context) -> SafeString:
    """An input of one line, whatever its type."""
    widget = context["widget"]
    value = "" if widget["value"] is None else f' value="{safe(widget["value"])}"'
    return mark_safe(
        f'<input type="{safe(widget["type"])}" name="{safe(widget["name"])}"{value}{_attributes(widget["attrs"])}>'
    )


def area(context: Context) -> SafeString:
    """Several lines. The line break before the text is one that browsers drop, so that its own first is kept."""
    widget = context["widget"]
    text = widget["value"] or ""
    return mark_safe(
        f'<textarea name="{safe(widget["name"])}"{_attributes(widget["attrs"])}>\n{safe(text)}</textarea>'
    )


def select(context: Context) -> SafeString:
    """A choice of one or more; choices may stand in named groups."""
    widget = context["widget"]
    parts = []
    for name, choices, _ in widget["optgroups"]:
        options = "".join(
            f'<option value="{safe(choice["value"])}"{_attributes(choice["attrs"])}>{safe(choice["label"])}</option>'
            for choice in choices
        )
        parts.append(f'<optgroup label="{safe(name)}">{options}</optgroup>' if name else options)
    return mark_safe(
        f'<select name="{safe(widget["name"])}"{_attributes(widget["attrs"])}>{"".join(parts)}</select>'
    )


def ticks(context: Context) -> SafeString:
    """A choice as a list of buttons, each within its label; choices may stand in named groups."""
    widget = context["widget"]
    parts = []
    for name, choices, _ in widget["optgroups"]:
        buttons = "".join(f"<div>{_labelled(choice)}</div>" for choice in choices)
        parts.append(f"<div><label>{safe(name)}</label>{buttons}</div>" if name else buttons)
    around = {name: widget["attrs"][name] for name in ("id", "class") if widget["attrs"].get(name)}
    return mark_safe(f"<div{_attributes(around)}>{''.join(parts)}</div>")


def _labelled(choice: Mapping[str, Any]) -> str:
    button = line({"widget": choice})
    if not choice["wrap_label"]:
        return button
    target = choice["attrs"].get("id")
    return f"<label{_attributes({'for': target} if target else {})}>{button} {safe(choice['label'])}</label>"


DRAWN: dict[str, Callable[[Context], SafeString]] = {
    **{
        f"django/forms/widgets/{kind}.html": line
        for kind in ("text", "number", "email", "url", "password", "hidden", "date", "datetime", "time")
    },
    "django/forms/widgets/textarea.html": area,
    "django/forms/widgets/select.html": select,
    "django/forms/widgets/radio.html": ticks,
    "django/forms/widgets/checkbox_select.html": ticks,
}
