"""The cloth picture as a file that a browser shows."""

from io import BytesIO

from PIL import Image

from stash.calc.cloth import ClothPicture


def cloth_png(picture: ClothPicture) -> bytes:
    """A PNG with a palette, at the picture's true proportions.

    Threads that end between two pixels are blended, so that fine cloth shows no stripes that are not there.
    """
    image = Image.frombytes("P", (picture.columns, picture.rows), picture.pixels)
    image.putpalette([channel for colour in picture.palette for channel in colour])
    size = (picture.width_px, picture.height_px)
    if image.size != size:
        blended = image.convert("RGB").resize(size, Image.Resampling.BOX)
        # Maximum coverage keeps the yarns' own colours to the digit; the octree is quicker and is up to 15 off.
        image = blended.quantize(256, Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
    out = BytesIO()
    image.save(out, "PNG", compress_level=6)
    return out.getvalue()
