"""The public surface stays what it is, and importing it stays cheap."""

import subprocess
import sys

import pytest

import nestlib

HEAVY = (
    *("numba", "ortools", "ezdxf", "shapely", "pydantic", "rich", "jinja2", "openpyxl", "scipy"),
    *("sqlalchemy", "alembic", "reportlab", "segno"),
)


def test_every_public_name_can_be_had():
    """The catalogue, the table of homes and the modules agree."""
    assert sorted(nestlib.__all__) == sorted(["__version__", *nestlib._HOME_OF])
    for name in nestlib.__all__:
        assert getattr(nestlib, name) is not None


def test_public_names_are_frozen():
    """Adding or removing a name is a decision, not an accident."""
    assert sorted(n for n in nestlib.__all__ if n[0].islower()) == [
        "buy",
        "buy_schema",
        "check_drawing",
        "feedback_schema",
        "job_from_list",
        "machine",
        "machines",
        "material",
        "materials",
        "metal",
        "nest",
        "order_feedback",
        "plan_schema",
        "read_drawing",
        "read_forecast",
        "read_job",
        "read_plan",
        "read_prices",
        "take_in",
        "verify",
        "write",
        "write_part_labels",
        "write_picture",
        "write_programs",
        "write_purchase_folder",
        "write_shop_sheets",
    ]


def test_an_unknown_name_is_an_attribute_error():
    """Lazy loading does not hide a typing mistake."""
    with pytest.raises(AttributeError, match="nets"):
        _ = nestlib.nets


@pytest.mark.parametrize("module", ["nestlib", "nestlib_cli"])
def test_importing_is_light(module):
    """Neither the library nor the command loads a heavy dependency at import."""
    code = f"import sys, {module}; print(*[m for m in {HEAVY!r} if m in sys.modules])"
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout
    assert found.split() == []
