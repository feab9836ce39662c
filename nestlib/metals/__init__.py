"""Materials, gauges, sheet formats, machines and cautions."""

from nestlib.metals.catalogue import catalogue
from nestlib.metals.cautions import cautions
from nestlib.metals.formats import Format, formats, parse_size
from nestlib.metals.gauges import gauge_numbers, gauge_tables, gauge_thickness, gauge_weight
from nestlib.metals.machines import Capability, capabilities, machine, machines, why_not
from nestlib.metals.materials import FAMILIES, material, materials, metal
from nestlib.metals.thickness import Thickness, parse_thickness

__all__ = [
    "FAMILIES",
    "Capability",
    "Format",
    "Thickness",
    "capabilities",
    "catalogue",
    "cautions",
    "formats",
    "gauge_numbers",
    "gauge_tables",
    "gauge_thickness",
    "gauge_weight",
    "machine",
    "machines",
    "material",
    "materials",
    "metal",
    "parse_size",
    "parse_thickness",
    "why_not",
]
