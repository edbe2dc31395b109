"""Plans made before there were further beams: each shade's ends are as long as the warp."""

from django.db import migrations
from django.db.models import OuterRef, Subquery


def fill(apps, schema_editor):
    Project = apps.get_model("projects", "Project")
    lengths = Project.objects.filter(pk=OuterRef("project_id")).values("warp_um")[:1]
    apps.get_model("projects", "ProjectShade").objects.update(warp_um=Subquery(lengths))


class Migration(migrations.Migration):
    dependencies = [("projects", "0003_complete_plan")]
    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
