"""Back to the ERP: what a plan means for each order line."""

from nestlib.orders.allotting import Allotment, allotments
from nestlib.orders.burdens import Burden, burdens
from nestlib.orders.feedback import COLUMNS, feedback_schema, order_feedback, plan_id

__all__ = [
    "COLUMNS",
    "Allotment",
    "Burden",
    "allotments",
    "burdens",
    "feedback_schema",
    "order_feedback",
    "plan_id",
]
