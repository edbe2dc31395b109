"""The demo's suppliers and orders: noted once, and what the file cannot mean is said with its entry."""

from datetime import timedelta

import pytest
from django.utils import timezone

from stash.models import Order, PutUp, Supplier
from stash.services.receiving import find_shade
from stash.services.refusal import Refusal
from stash.site.demo_buying import BUYING_FILE, BuyingFileError, load_buying, read_buying
from tests.factories import make_yarn

pytestmark = pytest.mark.django_db

SUPPLIER = (
    '[[supplier]]\nname = "Yarn post"\nlead = "8 days"\nlate = "4 days"\ncarriage = "6.90"\nput_ups = [\n'
    '{ yarn = "Cotton", mass = "454 g", price = "21.50", breaks = [[6, "19.80"]] },\n]\n'
)
ORDER = (
    '[[order]]\nsupplier = "Yarn post"\nordered_ago = 3\nreference = "N 1"\nlines = [\n'
    '{ yarn = "Cotton", shade = "Rain", mass = "454 g", number = 6 },\n]\n'
)


@pytest.fixture
def load(tmp_path, studio, owner):
    find_shade(make_yarn("Cotton").pk, "Rain")

    def loaded(text: str) -> tuple[int, int]:
        (tmp_path / BUYING_FILE).write_text(text)
        return load_buying(read_buying(tmp_path), timezone.localdate(), owner)

    return loaded


def test_suppliers_and_orders_are_noted_once_and_days_count_from_the_day_of_loading(load):
    for _ in range(2):
        assert load(SUPPLIER + ORDER) == (1, 1)
    supplier, order = Supplier.objects.get(), Order.objects.get()
    assert (supplier.lead_days, supplier.late_days, supplier.carriage_cents) == (8, 4, 690)
    assert PutUp.objects.get().mass_mg == 454_000
    assert order.due_on == timezone.localdate() + timedelta(days=5)
    assert order.lines.get().price_cents == 1_980, "six of them cost less each"


def test_a_demo_without_the_file_buys_nowhere(tmp_path):
    assert read_buying(tmp_path).suppliers == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("supplier = [", "is not TOML"),
        ("[[shop]]\n", "“shop” is no key here"),
        (SUPPLIER.replace("lead", "leed"), "supplier: “leed” is no key here"),
        (SUPPLIER.replace("8 days", "soon"), "supplier “Yarn post”: lead"),
        (SUPPLIER.replace('"Cotton"', '"Wool"'), "there is no yarn Wool"),
        (SUPPLIER + ORDER.replace("Rain", "Snow"), "has no shade Snow"),
        (SUPPLIER + ORDER.replace('"Yarn post"', '"Nobody"'), "there is no supplier Nobody"),
    ],
)
def test_what_the_file_cannot_mean_is_said_with_its_entry(load, text, said):
    with pytest.raises(BuyingFileError, match=said):
        load(text)


def test_what_a_service_refuses_is_refused(load):
    with pytest.raises(Refusal):
        load(SUPPLIER.replace("[6,", "[1,"))
