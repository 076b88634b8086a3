"""A plan as a picture behind the drawing: two points give its scale, pixels become metres."""

import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from resilience.building.text.entries import Findings, Span, shown
from resilience.building.text.tables import Columns, read_table
from resilience.drawings.account import Account
from resilience.drawings.plan import Point, checked_file, library
from resilience.errors import UsageError

PLACES = Columns(("id", "x_px", "y_px"), ("kind", "note"))
SCALE = Columns(("x_px", "y_px", "x_m", "y_m"))
ANYWHERE = Span("m", least=-1e9, most=1e9)
PIXEL = Span("pixels", least=-100_000, most=100_000)
FORMATS = {"PNG": ".png", "JPEG": ".jpg"}
MOST_PIXELS = 100_000_000
PX_PER_POINT = 2  # points are 1/72 inch (ISO 32000); a page of whole points has whole pixels
DOTS_PER_INCH = 72 * PX_PER_POINT


@dataclass(frozen=True, slots=True)
class Backdrop:
    """From the pixels of a picture to metres: a shift, a turn and one scale.

    Parameters
    ----------
    pixels, metres : tuple of (float, float)
        Two places in the picture, counted from its upper left corner, and on the plan. [pixels, m]
    """

    pixels: tuple[Point, Point]
    metres: tuple[Point, Point]

    def __post_init__(self) -> None:
        numbers = [value for point in (*self.pixels, *self.metres) for value in point]
        if not all(math.isfinite(value) for value in numbers):
            raise UsageError("a point is x,y in pixels = x,y in metres, such as 120,880=0,0")
        if math.dist(*self.pixels) < 10 or math.dist(*self.metres) < 0.1:
            raise UsageError(
                "the two points lie too close together: take two ends of a long wall, at least "
                "10 pixels and 0.1 m apart"
            )
        if not 1e-5 <= self.m_per_px <= 10:
            raise UsageError(
                f"a pixel would measure {self.m_per_px:g} m: check the two points, pixels before "
                "the = and metres behind it"
            )

    @property
    def _factor(self) -> complex:
        (a, b), (c, d) = self.pixels, self.metres
        # Pixels count downwards, metres upwards.
        return complex(d[0] - c[0], d[1] - c[1]) / complex(b[0] - a[0], -(b[1] - a[1]))

    @property
    def m_per_px(self) -> float:
        """Width of a pixel."""
        return abs(self._factor)

    @property
    def turned_deg(self) -> float:
        """How far the picture is turned against the plan, counter-clockwise."""
        return math.degrees(math.atan2(self._factor.imag, self._factor.real))

    def place(self, x_px: float, y_px: float) -> Point:
        """Return the place that a pixel shows, in metres."""
        (x0_px, y0_px), (x0_m, y0_m) = self.pixels[0], self.metres[0]
        moved = self._factor * complex(x_px - x0_px, -(y_px - y0_px))
        return (round(x0_m + moved.real, 3) + 0.0, round(y0_m + moved.imag, 3) + 0.0)

    def check_within(self, size_px: Point) -> None:
        """Raise UsageError if one of the two points lies outside the picture of that size."""
        for pixel in self.pixels:
            if not is_within(pixel, size_px):
                raise UsageError(f"point {pixel[0]:g},{pixel[1]:g} lies {_outside(size_px)}")

    def rows(self) -> list[list[str]]:
        """Return the two points as a small table, its header first."""
        pairs = zip(self.pixels, self.metres, strict=True)
        return [list(SCALE.needed), *([f"{value:.10g}" for value in (*p, *m)] for p, m in pairs)]


def is_within(pixel: Point, size_px: Point) -> bool:
    """Whether a picture of that size has such a pixel, its rim included."""
    return all(0 <= value <= most for value, most in zip(pixel, size_px, strict=True))


def _outside(size_px: Point) -> str:
    width_px, height_px = size_px
    return f"outside the picture, which has {width_px:g} by {height_px:g} pixels"


def backdrop_of(texts: Sequence[str]) -> Backdrop:
    """Return the scale that two texts such as ``120,880=0,0`` state."""
    if len(texts) != 2:
        raise UsageError(
            "a picture needs two points whose places on the plan you know: "
            "--point 120,880=0,0 --point 2040,880=30,0 (x,y in pixels = x,y in metres)"
        )
    pairs = []
    for text in texts:
        try:
            pixel, metre = ([float(one) for one in side.split(",")] for side in text.split("="))
            (x_px, y_px), (x_m, y_m) = pixel, metre
        except ValueError as error:
            wanted = "expected x,y in pixels = x,y in metres, such as 120,880=0,0"
            raise UsageError(f"point {shown(text)!r}: {wanted}") from error
        pairs.append(((x_px, y_px), (x_m, y_m)))
    (first, second) = pairs
    return Backdrop((first[0], second[0]), (first[1], second[1]))


def read_backdrop(path: Path, file: str) -> Backdrop:
    """Return the scale that was written beside a picture.

    Parameters
    ----------
    path : Path
        The small table. [-]
    file : str
        Its name in messages. [-]
    """
    findings = Findings()
    rows = read_table(path, file, SCALE, findings) or []
    pairs = [[row.number(key, ANYWHERE) or 0.0 for key in SCALE.needed] for row in rows]
    findings.raise_if_any()
    return backdrop_of([f"{a},{b}={c},{d}" for a, b, c, d in pairs])


def size_of(paths: Iterable[Path]) -> Point | None:
    """Return the size of the only picture that is there; None where nobody can tell."""
    try:
        image: Any = library("PIL.Image", "plan")
        image.MAX_IMAGE_PIXELS = None  # it was looked at when it was adopted
        (path,) = filter(Path.is_file, paths)
        with image.open(path, formats=tuple(FORMATS)) as picture:
            return (float(picture.width), float(picture.height))
    except (UsageError, OSError, ValueError, SyntaxError):
        return None


def sound_picture(path: Path, account: Account) -> tuple[str, Point]:
    """Return what the name of a sound picture ends with, and its size; UsageError if it is none.

    Parameters
    ----------
    path : Path
        The picture. [-]
    account : Account
        Where its size is told. [-]
    """
    image: Any = library("PIL.Image", "plan")
    name = shown(path.name)
    checked_file(path)
    image.MAX_IMAGE_PIXELS = None  # the size is looked at before anything is unpacked
    try:
        with image.open(path, formats=tuple(FORMATS)) as picture:
            width_px, height_px = picture.size
            if width_px * height_px > MOST_PIXELS:
                raise UsageError(f"{name} has more than {MOST_PIXELS:,} pixels: make it smaller")
            picture.load()
            suffix = FORMATS[str(picture.format)]
    except (OSError, ValueError, SyntaxError, EOFError) as error:
        raise UsageError(f"{name} is no sound PNG or JPEG: {shown(str(error))}") from error
    account.note(f"The picture has {width_px} by {height_px} pixels.")
    return suffix, (width_px, height_px)


def page_picture(path: Path, page: int | None, account: Account) -> tuple[bytes, Point]:
    """Return a page of a PDF as a PNG, and its size; UsageError if there is nothing to see.

    Parameters
    ----------
    path : Path
        The PDF. [-]
    page : int or None
        Which page, counted from 1; None takes the only one. [-]
    account : Account
        Where its size is told. [-]
    """
    pdfium: Any = library("pypdfium2", "plan")
    library("PIL.Image", "plan")  # writes the PNG
    name = shown(path.name)
    content = checked_file(path).read_bytes()
    try:
        with pdfium.PdfDocument(content) as document:
            number = _page_number(page, len(document), name)
            picture = _drawn(document[number - 1], f"page {number} of {name}")
    except pdfium.PdfiumError as error:
        locked = (pdfium.raw.FPDF_ERR_PASSWORD, pdfium.raw.FPDF_ERR_SECURITY)
        # The library's last error may be that of a document before; a locked one says so itself.
        if error.err_code in locked and b"/Encrypt" in content:
            raise UsageError(f"{name} is encrypted: save it without a password") from error
        raise UsageError(f"{name} is no sound PDF, or has no page") from error
    account.note(
        f"Page {number} became a picture of {picture.width} by {picture.height} pixels, "
        f"{DOTS_PER_INCH} an inch of paper."
    )
    stream = io.BytesIO()
    picture.save(stream, "PNG", dpi=(DOTS_PER_INCH, DOTS_PER_INCH))
    return stream.getvalue(), (picture.width, picture.height)


def _page_number(page: int | None, n_pages: int, name: str) -> int:
    if page is None and n_pages > 1:
        raise UsageError(f"{name} has {n_pages} pages: say which shows the level, such as --page 1")
    if page is not None and not 1 <= page <= n_pages:
        raise UsageError(f"{name} has no page {page}: expected one of 1 to {n_pages}")
    return page or 1


def _drawn(page: Any, name: str) -> Any:
    width, height = (math.ceil(side * PX_PER_POINT) for side in page.get_size())
    if width * height > MOST_PIXELS:
        raise UsageError(
            f"{name} would have more than {MOST_PIXELS:,} pixels: save the part with the plan by "
            "itself, or export it as a smaller picture"
        )
    picture = page.render(scale=PX_PER_POINT).to_pil()
    # A damaged page is drawn as far as it can be read: often not at all.
    if all(darkest == brightest for darkest, brightest in picture.getextrema()):
        raise UsageError(f"{name} shows nothing: if a viewer shows more, export it as a picture")
    return picture


@dataclass(frozen=True, slots=True)
class Spot:
    """A device whose place was read off a picture.

    Parameters
    ----------
    id, kind : str
        As the table gives them. [-]
    x_m, y_m : float
        Place on the plan. [m]
    note : str
        Free text. [-]
    """

    id: str
    kind: str
    x_m: float
    y_m: float
    note: str


def read_places(path: Path, backdrop: Backdrop, size_px: Point | None = None) -> list[Spot]:
    """Return the devices of a table of ``id,x_px,y_px``, in metres.

    Parameters
    ----------
    path : Path
        The table. [-]
    backdrop : Backdrop
        Scale of the picture that the pixels were read off. [-]
    size_px : (float, float) or None
        Its size; None where nobody can tell. [pixels]
    """
    findings, spots = Findings(), []
    for row in read_table(checked_file(path), shown(path.name), PLACES, findings) or []:
        name = row.name() or ""
        kind = row.word("kind", ("gateway", "sensor", "repeater"), "a kind", "sensor") or ""
        x_px, y_px = (row.number(key, PIXEL) or 0.0 for key in ("x_px", "y_px"))
        if size_px and not is_within((x_px, y_px), size_px):
            found = f"({x_px:g}, {y_px:g}), {_outside(size_px)}"
            findings.fault(row.mark, found, "expected a pixel of it")
        spots.append(Spot(name, kind, *backdrop.place(x_px, y_px), row.text("note")))
    findings.raise_if_any()
    return spots
