"""Photos of shades and cones: what a phone sends is decoded, drawn anew and written under a name of chance.

Nothing of the sent file is kept but its pixels: no place, no time, no owner's name, no hidden second picture.
"""

import secrets
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from io import BytesIO
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from PIL import Image, ImageCms, ImageOps

from stash.models import Photo
from stash.services.locking import lock_cone, lock_shade
from stash.services.refusal import Refusal

MOST_BYTES = 10_000_000
# Decoded, one such picture takes 150 MB for a moment.
MOST_PIXELS = 50_000_000
LONGEST_SIDE = 1600
QUALITY = 85
# A JPEG with a second picture in it, as many phones write, is read as one too.
FORMATS = ("JPEG", "PNG", "WEBP")


def photos_folder() -> Path:
    return Path(settings.DATA) / "media" / "photos"


def too_large() -> Refusal:
    return Refusal("This file is larger than 10 MB. Send the photo in a smaller size.", field="file")


def draw_anew(sent: bytes) -> tuple[bytes, int, int]:
    """A JPEG of at most 1600 px each way, upright, without metadata; with its width and height.

    Raises Refusal for what is no photo, is broken, or would take too much memory.
    """
    if len(sent) > MOST_BYTES:
        raise too_large()
    try:
        # Broken files are found by a first reading, which spoils the picture: it is opened twice.
        with Image.open(BytesIO(sent), formats=FORMATS) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise _too_many_pixels()
            picture.verify()
        with Image.open(BytesIO(sent), formats=FORMATS) as picture:
            return _encode(picture)
    except Refusal:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _too_many_pixels() from error
    except Exception as error:  # Decoders of pictures raise whatever comes to them.
        raise Refusal(
            "This is no photo that can be read here. Send a JPEG, PNG or WebP file.", field="file"
        ) from error


def _too_many_pixels() -> Refusal:
    return Refusal("This picture has more than 50 million pixels. Send it in a smaller size.", field="file")


def _encode(picture: Image.Image) -> tuple[bytes, int, int]:
    picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
    upright = ImageOps.exif_transpose(picture)
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    solid = _in_srgb(upright, picture.info.get("icc_profile"))
    # A new picture has no metadata that could be written along; what is see-through becomes white.
    clean = Image.new("RGB", solid.size, "white")
    clean.paste(solid, mask=solid)
    out = BytesIO()
    clean.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue(), *clean.size


def _in_srgb(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """The pixels as a screen without the profile shows them alike: a phone's wide colours would pale otherwise.

    A profile that cannot be read, or is of another kind than the pixels, changes nothing. With transparency.
    """
    solid = picture.convert("RGBA")
    if not profile:
        return solid
    try:
        known = ImageCms.ImageCmsProfile(BytesIO(profile))
        mode = {"RGB": "RGB", "GRAY": "L", "CMYK": "CMYK"}[known.profile.xcolor_space.strip()]
        if mode == "CMYK" and picture.mode != "CMYK":
            return solid
        pixels = picture if picture.mode == mode else solid.convert(mode)
        drawn = ImageCms.profileToProfile(pixels, known, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, KeyError, OSError, ValueError, TypeError):
        return solid
    drawn.putalpha(solid.getchannel("A"))
    return drawn


@contextmanager
def drawn_file(sent: bytes) -> Iterator[tuple[str, int, int]]:
    """The sent photo drawn anew as a file under a name of chance: name, width and height.

    The file stays if what is done with it here goes well; else it is gone. Raises Refusal.
    """
    drawn, width, height = draw_anew(sent)
    with new_file(drawn) as name:
        yield name, width, height


@contextmanager
def new_file(drawn: bytes) -> Iterator[str]:
    """These bytes as a new file of the photos' folder, unless what is done with its name here fails."""
    folder = photos_folder()
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{secrets.token_hex(16)}.jpg"
    path.write_bytes(drawn)
    try:
        yield path.name
    except BaseException:
        path.unlink(missing_ok=True)
        raise


@contextmanager
def copied_files(names: Iterable[str]) -> Iterator[dict[str, str]]:
    """New files with the bytes of these: the new name by the old one. A file that is missing has no copy."""
    with ExitStack() as made:
        copies = {}
        for name in names:
            with suppress(FileNotFoundError):
                copies[name] = made.enter_context(new_file((photos_folder() / Path(name).name).read_bytes()))
        yield copies


def take_photo(*, sent: bytes, shade_id: int | None = None, cone_id: int | None = None) -> Photo:
    """The photo of one shade or one cone, in the place of any that it had. Raises Refusal."""
    with drawn_file(sent) as (name, width, height), transaction.atomic():
        of = _lock(shade_id, cone_id)
        before = list(Photo.objects.filter(**of))
        photo = Photo(file=name, width=width, height=height, made_at=timezone.now(), **of)
        photo.full_clean()
        photo.save()
        let_go(before)
    return photo


@transaction.atomic
def remove_photo(*, shade_id: int | None = None, cone_id: int | None = None) -> None:
    """Without any photo, nothing happens. Raises Refusal if shade or cone are no more."""
    let_go(list(Photo.objects.filter(**_lock(shade_id, cone_id))))


def _lock(shade_id: int | None, cone_id: int | None) -> dict[str, int | None]:
    if cone_id is not None:
        return {"cone_id": lock_cone(cone_id).pk}
    return {"shade_id": lock_shade(shade_id or 0).pk}


def let_go(photos: Iterable[Any]) -> None:
    """Rows with a `file`, of whatever they are photos: the rows now, their files once that is certain."""
    for photo in photos:
        path = photos_folder() / Path(photo.file).name
        photo.delete()
        transaction.on_commit(lambda path=path: _unlink(path))


def _unlink(path: Path) -> None:
    # Left behind, it is named by the check of the books; a page must not fall over it.
    with suppress(OSError):
        path.unlink(missing_ok=True)
