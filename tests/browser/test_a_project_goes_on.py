"""A project from its plan to the last step, on a phone; then its plan, as a file, in another hand."""

import pytest

from projects.models import Project
from tests.browser.steps import expect

pytestmark = pytest.mark.browser


def test_a_project_goes_from_plan_to_done_with_its_record(site, visit):
    mine = visit(phone=True)
    page = mine.enter_demo()
    mine.room("Projects")
    page.get_by_role("link", name="Ferry towels").click()
    steps = page.get_by_label("Steps", exact=True)
    expect(steps.locator("[aria-current=step]")).to_contain_text("planned")

    steps.get_by_role("link", name="The warp is wound").click()
    page.get_by_role("button", name="The warp is wound").click()
    expect(steps.locator("[aria-current=step]")).to_contain_text("warp wound")

    steps.get_by_role("button", name="It is on the loom").click()
    expect(page.locator("#messages")).to_contain_text("Nothing changed on the shelf.")
    steps.get_by_role("button", name="Weaving has begun").click()

    record = page.locator("#record")
    record.get_by_label("Note").fill("Beat is 18, not 20.")
    record.get_by_role("button", name="Keep this note").click()
    expect(record).to_contain_text("Beat is 18, not 20.")

    steps.get_by_role("link", name="Cut it off").click()
    page.get_by_role("button", name="It is cut off").click()
    steps.get_by_role("button", name="It is wet-finished and hemmed").click()
    expect(steps.get_by_role("link", name="Weigh back its cones")).to_be_visible()
    expect(record.get_by_role("listitem").first).to_contain_text("Wet-finished and hemmed.")
    assert Project.objects.get(name="Ferry towels").stage == "finished"


def test_a_teachers_plan_goes_as_a_file_and_comes_in_under_another_name(site, visit, tmp_path):
    mine = visit()
    page = mine.enter_demo()
    mine.room("Projects")
    page.get_by_role("link", name="Hearth mats").click()
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save it to a file").click()
    path = tmp_path / "mats.json"
    path.write_text(
        saved.value.path().read_text(encoding="utf-8").replace('"Ember"', '"Rust"'), encoding="utf-8"
    )

    mine.room("Projects")
    page.get_by_role("link", name="Open from a file").click()
    page.set_input_files("input[type=file]", path)
    page.get_by_role("button", name="Look into the file").click()
    expect(page.get_by_label("A: Juniper, Mercerised cotton")).to_contain_text("Juniper, Mercerised cotton")
    page.get_by_label("C: Rust, Mercerised cotton").select_option(label="Ember, Mercerised cotton")
    page.get_by_label("Name here").fill("Mats of a friend")
    page.get_by_role("button", name="Keep this plan").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Mats of a friend")
    opened, first = (Project.objects.get(name=name) for name in ("Mats of a friend", "Hearth mats"))
    assert opened.plan == first.plan and opened.open_keys == ""
