"""Forms of the doors and of the studio page."""

from fractions import Fraction
from typing import Any

from django import forms
from django.conf import settings

from stash.forms.fields import MassField, PercentField, PriceField, RefusableForm
from stash.forms.suppliers import DaysField
from stash.forms.versions import VersionedForm
from stash.models import CalendarAddress, Person, Role, Studio
from stash.models.studio import LEAST_DIVISION_MG, MOST_DIVISION_MG, Measuring, Spelling
from stash.services.studio import USUAL_QUARANTINE_DAYS, USUAL_SURE_PPM
from stash.site.label_address import read_label_address

MILLION = 1_000_000
MOST_SURE_PPM = 999_000
"""Nobody is wholly sure."""

PASSWORD_HINT = "At least 10 signs; not a word that everyone uses, and not like the name."
NAME_HINT = "For signing in; capitals do not matter."


def _name(model: Any, field: str, label: str, **kwargs: Any) -> forms.CharField:
    """A line of text no longer than the model holds."""
    attrs = {"autocomplete": "off"} | kwargs.pop("attrs", {})
    length = model._meta.get_field(field).max_length
    return forms.CharField(label=label, max_length=length, widget=forms.TextInput(attrs=attrs), **kwargs)


def _password(label: str, *, known: bool = False, **kwargs: Any) -> forms.CharField:
    """`known`: the browser may fill in the one it keeps; otherwise it may offer a new one."""
    if not known:
        kwargs.setdefault("help_text", PASSWORD_HINT)
    widget = forms.PasswordInput(attrs={"autocomplete": "current-password" if known else "new-password"})
    return forms.CharField(label=label, max_length=200, strip=False, widget=widget, **kwargs)


def _again() -> forms.CharField:
    return _password("The same password again", help_text="")


class TwicePasswordForm(RefusableForm):
    """A form with a new password typed twice, in the fields `password` and `again`."""

    @property
    def facts(self) -> dict[str, Any]:
        """What a service takes: all but the repetition."""
        return {name: value for name, value in self.cleaned_data.items() if name != "again"}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "password" in data and "again" in data and data["password"] != data["again"]:
            self.add_error("again", "This is not the same as the password above. Type both anew.")
        return data


class SignInForm(RefusableForm):
    username = _name(
        Person, "username", "Sign-in name", attrs={"autocomplete": "username", "autocapitalize": "none"}
    )
    password = _password("Password", known=True)

    def clean_username(self) -> str:
        """An accent typed as a sign of its own is the same letter."""
        return str(Person.normalize_username(self.cleaned_data["username"]))


class PhoneCodeForm(RefusableForm):
    code = forms.CharField(
        label="Code",
        max_length=100,
        help_text="Ten letters and figures. Capitals and the hyphen do not matter.",
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )


class CalendarAddressForm(RefusableForm):
    name = _name(
        CalendarAddress, "name", "Which calendar is it for?", help_text="A word to know it by: My phone."
    )


class WelcomeForm(TwicePasswordForm):
    """First run: the studio and its owner."""

    name = _name(Studio, "name", "Name of the studio", attrs={"autocomplete": "organization"})
    measuring = forms.ChoiceField(
        label="Units",
        choices=Measuring,
        initial=Measuring.INCHES_GRAMS,
        widget=forms.RadioSelect,
        help_text="Every page and sheet follows. Other units can still be typed anywhere.",
    )
    spelling = forms.ChoiceField(
        label="Spelling", choices=Spelling, initial=Spelling.BRITISH, widget=forms.RadioSelect
    )
    owner_name = _name(Person, "name", "Your name", required=False, attrs={"autocomplete": "name"})
    username = _name(
        Person,
        "username",
        "Your sign-in name",
        help_text=NAME_HINT,
        attrs={"autocomplete": "username", "autocapitalize": "none"},
    )
    password = _password("Password")
    again = _again()


class OpenArchiveForm(TwicePasswordForm):
    """First run: a studio out of an archive, and the password of its owner."""

    archive = forms.FileField(
        label="Archive",
        help_text="A file that ends in .warpshelf, of at most "
        f"{settings.MOST_UPLOAD // 1_000_000} MB. A larger one is opened by the command open_archive.",
        widget=forms.ClearableFileInput(attrs={"accept": ".warpshelf,application/zip"}),
        error_messages={"empty": "This file is empty. Choose the archive as it was written."},
    )
    username = _name(
        Person,
        "username",
        "Your sign-in name",
        help_text="That of an owner in the archive.",
        attrs={"autocomplete": "username", "autocapitalize": "none"},
    )
    password = _password("New password")
    again = _again()

    def say_too_large(self) -> None:
        """The file was let go of while it came in, and is missed for that."""
        self.fields["archive"].error_messages["required"] = (
            f"This file is larger than the {settings.MOST_UPLOAD // 1_000_000} MB that a page takes. Open it by the "
            "command open_archive."
        )


class StudioForm(VersionedForm):
    name = _name(Studio, "name", "Name of the studio")
    measuring = forms.ChoiceField(label="Units", choices=Measuring, widget=forms.RadioSelect)
    spelling = forms.ChoiceField(label="Spelling", choices=Spelling, widget=forms.RadioSelect)
    currency = _name(
        Studio,
        "currency",
        "Currency",
        required=False,
        help_text="Its three letters (ISO 4217), such as EUR, GBP, SEK or USD. Prices that are noted keep their figure.",
        attrs={"autocapitalize": "characters", "spellcheck": "false"},
    )
    division_mg = MassField(
        label="The scale steps by",
        required=False,
        least=LEAST_DIVISION_MG,
        most=MOST_DIVISION_MG,
        help_text="What its last figure changes by. Left empty it is 1 g, or 0.1 oz; at a stocktake, two such steps are "
        "no difference.",
        attrs={"inputmode": "decimal"},
    )
    label_address = _name(
        Studio,
        "label_address",
        "Label address",
        required=False,
        help_text="Where the QR codes on labels lead: the address by which phones reach the studio, such as "
        "http://loft.example:8000. Labels last for years, so a name is better than a number.",
        attrs={"inputmode": "url", "autocapitalize": "none", "spellcheck": "false"},
    )

    quarantine_days = DaysField(
        label="Animal fibre is kept apart",
        required=False,
        help_text="New wool or silk in quarantine, so that no moth comes with it: so much sooner it is ordered. Left "
        f"empty it is {USUAL_QUARANTINE_DAYS} days (common practice).",
    )
    sure_ppm = PercentField(
        label="How sure",
        required=False,
        most=Fraction(MOST_SURE_PPM, MILLION),
        help_text="In so many of a hundred times between two orders usual use is not to run dry: what a computed "
        f"reorder level keeps as safety follows from it. Left empty it is {USUAL_SURE_PPM // 10_000} %.",
    )
    order_cost_cents = PriceField(
        label="What an order costs",
        required=False,
        help_text="In work and trouble, from writing it to putting the cones away; not the carriage. With the next "
        "figure it says how much at a time costs least.",
        attrs={"inputmode": "decimal"},
    )
    holding_ppm = PercentField(
        label="What keeping yarn costs",
        required=False,
        most=Fraction(1),
        help_text="In a year, of its price: room, money that lies still, moth and fading.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["order_cost_cents"].unit = self.initial.get("currency", "EUR")

    @classmethod
    def texts_of(cls, thing: Studio) -> dict[str, Any]:
        names = ("name", "measuring", "spelling", "currency", "division_mg", "label_address", "version")
        shares = {
            name: None if getattr(thing, name) is None else Fraction(getattr(thing, name), MILLION)
            for name in ("sure_ppm", "holding_ppm")
        }
        return {
            name: getattr(thing, name) for name in (*names, "quarantine_days", "order_cost_cents")
        } | shares

    @property
    def of_buying(self) -> list[forms.BoundField]:
        """What is asked under a heading of its own."""
        return [self[name] for name in ("quarantine_days", "sure_ppm", "order_cost_cents", "holding_ppm")]

    @property
    def of_studio(self) -> list[forms.BoundField]:
        buying = {field.name for field in self.of_buying}
        return [field for field in self.visible_fields() if field.name not in buying]

    def clean_sure_ppm(self) -> int | None:
        return _ppm(self.cleaned_data["sure_ppm"])

    def clean_holding_ppm(self) -> int | None:
        return _ppm(self.cleaned_data["holding_ppm"])

    def clean_currency(self) -> str:
        """Small letters mean the same. What is no three letters the model says."""
        return str(self.cleaned_data["currency"]).upper() or self.initial.get("currency", "EUR")

    def clean_label_address(self) -> str:
        typed = self.cleaned_data["label_address"]
        return read_label_address(typed) if typed else ""


def _ppm(share: Fraction | None) -> int | None:
    return None if share is None else int(share * MILLION)


ROLE_WORDS = {
    Role.VIEWER: "reads everything and changes nothing but the own password",
    Role.HELPER: "also weighs and moves cones, reserves yarn for projects and gives it back",
    Role.OWNER: "also changes the rest: yarns, cones, plans, the studio and its people",
}


def _role() -> forms.ChoiceField:
    choices = [(role.value, f"{role.label}: {words}") for role, words in ROLE_WORDS.items()]
    return forms.ChoiceField(label="Role", choices=choices, initial=Role.HELPER, widget=forms.RadioSelect)


class NewPersonForm(TwicePasswordForm):
    username = _name(
        Person, "username", "Sign-in name", help_text=NAME_HINT, attrs={"autocapitalize": "none"}
    )
    name = _name(Person, "name", "Name shown", required=False)
    role = _role()
    password = _password("First password")
    again = _again()


class PersonForm(TwicePasswordForm, VersionedForm):
    """An owner edits a person; the password changes only if one is typed."""

    name = _name(Person, "name", "Name shown", required=False)
    role = _role()
    is_active = forms.BooleanField(
        label="May sign in",
        required=False,
        help_text="Without it the person stays named in the books but cannot come in, not even from a page still open.",
    )
    password = _password("New password", required=False)
    again = _password("The new password again", required=False, help_text="")

    @classmethod
    def texts_of(cls, thing: Person) -> dict[str, Any]:
        return {name: getattr(thing, name) for name in ("name", "role", "is_active", "version")}

    def show_both(self, error: Any, current: Any) -> None:
        """Passwords are not shown, neither the typed nor the one that stands there."""
        super().show_both(error, current)
        for name in ("password", "again"):
            self[name].help_text = self.fields[name].help_text

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("password") and not data.get("again"):
            self.add_error("again", "Type the new password a second time.")
        return data


class OwnPasswordForm(TwicePasswordForm):
    current = _password("Your password now", known=True)
    password = _password("New password")
    again = _again()


class FindForm(forms.Form):
    q = forms.CharField(label="Searched text", max_length=100, required=False)
