"""Pressing a form's button without a browser."""

from datetime import datetime

import uuid_utils

from labkit.ui.form import Press


def standing_in(form):
    """What stands in a form when nothing was typed."""
    values = {}
    for group in form.groups:
        blank = {field["name"]: field["start"] for field in group["fields"]}
        values[group["name"]] = [{**blank, **start} for start in group["starts"]] or [blank]
    return values


def press(form, values=None, id=None, **typed):
    """Press with what stands there, or with `values`, and with texts typed at "group__field"."""
    values = values or standing_in(form)
    for place, text in typed.items():
        group, name = place.split("__")
        values[group][0][name] = text
    at = datetime.now().astimezone().isoformat()
    return form.press(Press(id or str(uuid_utils.uuid7()), at, form.key, values))
