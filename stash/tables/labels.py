"""What stands on the label of a cone."""

from dataclasses import dataclass

from django.utils.safestring import SafeString

from stash.calc.writing import Measures
from stash.label_address import label_text
from stash.models import Cone
from stash.models.cone import ConeQuerySet
from stash.qr import qr_svg


@dataclass(frozen=True, slots=True)
class Label:
    """One cone in words. What is not known is said so, since a blank would read as forgotten."""

    cone: Cone
    yarn: str
    count: str
    grist: str
    fibre: str
    lot: str
    core: str
    place: str
    code_size: str
    qr: SafeString


def cones_for_labels(cones: ConeQuerySet) -> ConeQuerySet:
    """With all that a label names, by two queries."""
    return cones.with_names().prefetch_related("shade__yarn__fibres").order_by("code", "pk")


def write_label(cone: Cone, measures: Measures, root: str) -> Label:
    yarn = cone.shade.yarn
    system = yarn.get_count_system_display() if yarn.count_system else ""
    said = f"opens cone {cone.code}" if root else f"holds the code {cone.code}"
    return Label(
        cone=cone,
        yarn=yarn.name,
        count=f"{yarn.count_written}, {system}" if system else "no count",
        grist=f"{measures.grist(yarn.grist)}, {yarn.get_grist_source_display()}",
        fibre=", ".join(str(share) for share in yarn.fibres.all()) or "not noted",
        lot=cone.lot.name if cone.lot else "unknown",
        core="not known" if cone.core_mg is None else measures.mass(cone.core_mg),
        place=cone.place.name if cone.place else "no place",
        # Twelve wide letters fit where five fit at twice the size.
        code_size="long" if len(cone.code) > 7 else "",
        qr=qr_svg(label_text(cone, root), f"QR code, {said}"),
    )
