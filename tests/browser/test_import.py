"""An old list of cones comes in: by a person who looks at every step, with script and without."""

import pytest
from django.conf import settings

from stash.models import Cone
from tests.books import assert_books_agree
from tests.browser.steps import expect

pytestmark = pytest.mark.browser

MESSY = settings.CODE / "fixtures" / "imports" / "messy.csv"


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_a_messy_list_comes_in_whole_and_not_twice(site, visit, script):
    mine = visit(script=script)
    page = mine.enter_demo()
    before = Cone.objects.count()
    mine.room("Yarn")
    page.get_by_role("link", name="Bring in a spreadsheet").click()
    page.get_by_label("Spreadsheet", exact=True).set_input_files(MESSY)
    page.get_by_role("button", name="Read it").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("What the columns are")
    page.get_by_label("What Reckoned (column C) is").select_option(label="count system")
    page.get_by_label("Counts that name no system are in").select_option("cotton")
    page.get_by_role("button", name="Show every row").click()

    expect(page.get_by_text("4 rows cannot come in.")).to_be_visible()
    expect(page.locator("table.rows tbody tr").first).to_contain_text("Size (column B)")
    page.get_by_label("Leave out rows").fill("58-61")
    page.get_by_label("a cone each").check()
    page.get_by_role("button", name="Look again").click()
    page.get_by_role("button", name="Bring 48 cones in").click()

    done = page.get_by_text("48 cones are on the shelf")
    for _ in range(60):
        if script or done.is_visible():
            break
        page.get_by_role("link", name="Look again").click()
    expect(done).to_be_visible(timeout=30_000)
    assert Cone.objects.count() == before + 48
    assert_books_agree()

    page.get_by_role("link", name="Bring in another").click()
    page.get_by_label("Spreadsheet", exact=True).set_input_files(MESSY)
    page.get_by_role("button", name="Read it").click()
    expect(page.get_by_text("Read as you read these headings last time.")).to_be_visible()
    page.get_by_role("button", name="Show every row").click()
    page.get_by_label("Leave out rows").fill("58-61")
    page.get_by_role("button", name="Look again").click()
    expect(page.get_by_text("Nothing would come in.")).to_be_visible()
    page.get_by_role("button", name="Let this spreadsheet go").click()
    expect(page.locator("#messages")).to_contain_text("Nothing was brought in.")


def test_the_list_of_cones_is_taken_away_as_a_file(site, visit):
    mine = visit()
    page = mine.enter_demo()
    mine.room("Studio")
    page.get_by_role("link", name="Tables to take away").click()
    with page.expect_download() as caught:
        page.get_by_role("link", name="XLSX of Cones").click()
    assert caught.value.suggested_filename.startswith("cones-")
    assert caught.value.path().read_bytes()[:2] == b"PK"
