"""How a service says no: with a sentence for the person and the field it is about."""


class Refusal(Exception):
    """Nothing was written. `field` names the form field to point at, "" for the whole form."""

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.field = field


class ChangedMeanwhile(Refusal):
    """Somebody saved the same thing after this form was opened. `current` is what stands there now."""

    def __init__(self, what: str, current: object) -> None:
        super().__init__(
            f"{what} was changed by someone else after you opened this form. Your text is kept below; "
            "what stands there now is shown beside it. Save again to put yours in its place."
        )
        self.current = current


class NotEnoughFree(Refusal):
    """A cone has less free than was asked for."""

    def __init__(self, cone_code: str, asked_mg: int, free_mg: int) -> None:
        super().__init__(
            f"Cone {cone_code} has {_grams(free_mg)} g free, {_grams(asked_mg)} g were asked for. "
            "Someone else may have reserved it just now."
        )
        self.cone_code, self.asked_mg, self.free_mg = cone_code, asked_mg, free_mg


def _grams(mass_mg: int) -> str:
    """To the milligram, since the two figures may differ by one."""
    return f"{mass_mg // 1000:,}.{mass_mg % 1000:03}".rstrip("0").rstrip(".")
