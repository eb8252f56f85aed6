"""The lowest library versions that pyproject.toml allows, as constraints for pip.

python3 .ci/lowest.py > lowest.txt && pip install -c lowest.txt '.[test]'
"""

import re
import tomllib
from pathlib import Path


def lowest(project: dict) -> list[str]:
    """Each bound turned into a pin; a requirement without a lower bound is a mistake here."""
    pins = []
    for requirement in (*project["dependencies"], *project["optional-dependencies"]["test"]):
        found = re.match(r"([\w.-]+)(?:\[[\w,-]+\])?\s*(?:>=|==)\s*([\w.]+)", requirement)
        if not found:
            raise SystemExit(f"pyproject.toml: {requirement!r} has no lowest version")
        pins.append(f"{found[1]}=={found[2]}")
    return pins


if __name__ == "__main__":
    text = (Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8")
    print("\n".join(lowest(tomllib.loads(text)["project"])))
