"""The published values, by name. Each names its source in tests/references/reorder.yaml."""

from pathlib import Path

import yaml

HERE = Path(__file__).parents[2] / "references"
BY_ID = {one["id"]: one for one in yaml.safe_load((HERE / "reorder.yaml").read_text(encoding="utf-8"))}
