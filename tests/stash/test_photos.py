"""Photos of shades and cones: what is kept of them, what is refused, who sees them."""

import struct
import zlib
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image, ImageCms
from PIL.PngImagePlugin import PngInfo

from stash.archive.form import PHOTO_NAME
from stash.models import Photo
from stash.services import photos
from stash.services.photos import draw_anew, photos_folder, take_photo
from stash.services.refusal import Refusal
from stash.site import folders
from tests.factories import a_photo, make_cone, make_shade


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.DATA = tmp_path
    return tmp_path / "media" / "photos"


def files(folder):
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def sent(content, name="photo.jpg"):
    return {"file": SimpleUploadedFile(name, content, content_type="image/jpeg")}


def opened(content):
    picture = Image.open(BytesIO(content))
    picture.load()
    return picture


def test_archive_and_backup_look_where_photos_are_kept():
    assert folders.photos_folder() == photos_folder()


def test_a_large_photo_becomes_a_jpeg_of_at_most_1600_px():
    drawn, width, height = draw_anew(a_photo(4000, 3000))
    assert (width, height) == (1600, 1200)
    assert (opened(drawn).format, opened(drawn).size) == ("JPEG", (1600, 1200))


def test_a_small_photo_keeps_its_size():
    assert draw_anew(a_photo(40, 30))[1:] == (40, 30)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_usual_kinds_are_read(kind):
    assert opened(draw_anew(a_photo(kind=kind))[0]).format == "JPEG"


def test_a_photo_taken_sideways_stands_upright_and_says_nothing_else():
    exif = Image.Exif()
    exif[0x0112] = 6  # turn right
    exif[0x010F] = "Invented camera"
    exif.get_ifd(0x8825)[1] = "N"  # the place
    drawn, width, height = draw_anew(a_photo(80, 60, exif=exif, comment=b"at home"))
    assert (width, height) == (60, 80)
    assert dict(opened(drawn).getexif()) == {}
    assert b"Invented camera" not in drawn and b"at home" not in drawn and b"Exif" not in drawn


def test_words_in_a_png_do_not_come_along():
    words = PngInfo()
    words.add_text("Author", "Nobody here")
    assert b"Nobody here" not in draw_anew(a_photo(kind="PNG", pnginfo=words))[0]


def test_what_is_see_through_becomes_white():
    out = BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(out, "PNG")
    assert opened(draw_anew(out.getvalue())[0]).getpixel((3, 3)) == (255, 255, 255)


@pytest.mark.parametrize("mode", ["1", "L", "P", "LA", "CMYK", "I;16"])
def test_every_way_to_write_pixels_is_read(mode):
    out = BytesIO()
    Image.new(mode, (8, 8)).save(out, "JPEG" if mode == "CMYK" else "PNG")
    assert draw_anew(out.getvalue())[1:] == (8, 8)


def png_that_claims(width, height):
    """A header that promises far more than follows."""

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\x00" * 99))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("side", [8_000, 11_000, 60_000])
def test_a_bomb_is_refused_before_it_is_unpacked(side):
    with pytest.raises(Refusal, match="more than 50 million pixels"):
        draw_anew(png_that_claims(side, side))


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"moonlight",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"<html><script>alert(1)</script></html>",
        a_photo(400, 300)[:400],
        a_photo(400, 300, kind="PNG")[:-30],
        a_photo(kind="GIF"),
        a_photo(kind="BMP"),
        a_photo(kind="TIFF"),
        b"\xff\xd8\xff" + b"\x00" * 500,
        b"%PDF-1.4",
        png_that_claims(10, 10),
    ],
)
def test_what_is_no_photo_is_refused_with_a_clear_sentence(content):
    with pytest.raises(Refusal, match="Send a JPEG, PNG or WebP file"):
        draw_anew(content)


def test_a_photo_of_a_cone_is_sent_shown_replaced_and_removed(as_helper, folder):
    cone = make_cone()
    address = reverse("cone-photo", args=[cone.pk])
    assert as_helper.post(address, sent(a_photo())).url == reverse("cone-page", args=[cone.pk])
    first = Photo.objects.get()
    assert files(folder) == [first.file]
    assert PHOTO_NAME.match(first.file)
    page = as_helper.get(reverse("cone-page", args=[cone.pk])).content.decode()
    assert (
        f'src="{reverse("photo", args=[first.pk])}?v={first.mark}" width="8" height="6" alt="Photo of {cone}"'
        in page
    )

    assert "Put it in its place" in as_helper.get(address).content.decode()
    assert as_helper.post(address, sent(a_photo(20, 10))).status_code == 302
    second = Photo.objects.get()
    assert (second.width, second.cone) == (20, cone)
    assert second.file != first.file

    assert as_helper.post(address, {"remove": "1"}).status_code == 302
    assert not Photo.objects.exists()
    assert as_helper.post(address, {"remove": "1"}).status_code == 302


@pytest.mark.django_db(transaction=True)
def test_the_old_file_goes_when_the_new_one_is_certain(folder):
    cone = make_cone()
    first = take_photo(sent=a_photo(), cone_id=cone.pk)
    second = take_photo(sent=a_photo(), cone_id=cone.pk)
    assert files(folder) == [second.file] != [first.file]
    photos.remove_photo(cone_id=cone.pk)
    assert files(folder) == []


def test_a_file_without_its_row_is_not_left_behind(studio, folder):
    with pytest.raises(Refusal, match="no such cone"):
        take_photo(sent=a_photo(), cone_id=999)
    assert files(folder) == []


def test_a_photo_of_a_shade_is_the_owners_to_change(as_owner):
    shade = make_shade()
    assert as_owner.post(reverse("shade-photo", args=[shade.pk]), sent(a_photo())).status_code == 302
    page = as_owner.get(reverse("shade-page", args=[shade.pk])).content.decode()
    assert reverse("photo", args=[Photo.objects.get().pk]) in page


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"moonlight", "no photo that can be read here"),
        (b"", "This file is empty"),
        (b"x" * 10_000_001, "larger than 10 MB"),
        (b"x" * 10_200_000, "larger than 10 MB"),
    ],
)
def test_a_refused_file_is_told_on_the_page_and_the_old_photo_stays(as_owner, folder, content, said):
    cone = make_cone()
    before = take_photo(sent=a_photo(), cone_id=cone.pk)
    answer = as_owner.post(reverse("cone-photo", args=[cone.pk]), sent(content))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert Photo.objects.get() == before
    assert files(folder) == [before.file]


def test_no_file_at_all_is_said(as_owner):
    answer = as_owner.post(reverse("cone-photo", args=[make_cone().pk]), {"file": "text"})
    assert answer.status_code == 422
    assert "Choose a photo." in answer.content.decode()


def test_the_picture_is_served_as_one_and_kept_by_nobody_between(as_viewer):
    photo = take_photo(sent=a_photo(), cone_id=make_cone().pk)
    answer = as_viewer.get(reverse("photo", args=[photo.pk]))
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"].startswith("private,")
    assert opened(answer.content).size == (8, 6)


def test_nobody_sees_a_photo_without_signing_in(client, studio):
    photo = take_photo(sent=a_photo(), cone_id=make_cone().pk)
    assert client.get(reverse("photo", args=[photo.pk])).url.startswith("/sign-in/")


@pytest.mark.parametrize("name", ["../../studio.sqlite3", "/etc/hostname", "gone.jpg", "..", "sub/one.jpg"])
def test_a_name_that_leads_elsewhere_is_not_found(as_viewer, folder, name):
    photo = take_photo(sent=a_photo(), cone_id=make_cone().pk)
    (folder / "sub").mkdir()
    (folder / "sub" / "one.jpg").write_bytes(b"x")
    Photo.objects.update(file=name)
    assert as_viewer.get(reverse("photo", args=[photo.pk])).status_code == 404


def test_only_the_address_with_its_mark_is_kept_for_good(as_viewer):
    photo = take_photo(sent=a_photo(), cone_id=make_cone().pk)
    address = reverse("photo", args=[photo.pk])
    assert "immutable" in as_viewer.get(address, {"v": photo.mark})["Cache-Control"]
    for asked in ({}, {"v": "another"}):
        answer = as_viewer.get(address, asked)
        assert (answer.status_code, answer["Cache-Control"]) == (200, "private, no-cache")


def test_a_photo_under_the_same_key_has_another_mark(owner):
    cone = make_cone(by=owner)
    marks = set()
    for _ in range(2):
        photo = take_photo(sent=a_photo(), cone_id=cone.pk)
        marks.add(photo.mark)
        Photo.objects.all().delete()
    assert len(marks) == 2


def red_for_blue():
    """A profile like sRGB, but what it calls red is blue, and the other way round."""
    plain = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return plain.replace(b"rXYZ", b"?XYZ", 1).replace(b"bXYZ", b"rXYZ", 1).replace(b"?XYZ", b"bXYZ", 1)


@pytest.mark.parametrize("mode", ["RGB", "RGBA"])
def test_colours_of_a_profile_become_those_of_the_screen(mode):
    out = BytesIO()
    Image.new(mode, (8, 6), "red").save(out, "PNG", icc_profile=red_for_blue())
    drawn, *_ = draw_anew(out.getvalue())
    red, green, blue = opened(drawn).getpixel((3, 3))
    assert blue > 240 and red < 15 and green < 15
    assert "icc_profile" not in opened(drawn).info


@pytest.mark.parametrize("profile", [b"no profile at all", red_for_blue()[:200]])
def test_a_profile_that_cannot_be_read_changes_nothing(profile):
    out = BytesIO()
    Image.new("RGB", (8, 6), "red").save(out, "PNG", icc_profile=profile)
    drawn, *_ = draw_anew(out.getvalue())
    assert opened(drawn).getpixel((3, 3))[0] > 240
