"""What can be pointed at in a chart, or stepped through by keys."""

from resilience.report.drawing.ink import Element, put, say


def mark(group: Element, told: str, value: float, classes: str = "") -> Element:
    """Add a mark that tells its number.

    Parameters
    ----------
    group : Element
        The chart. [-]
    told : str
        What a pointer or a reader finds. [-]
    value : float
        The number behind it, kept in full. [unit]
    classes : str
        How it looks beside being a mark. [-]
    """
    made = put(group, "g", f"mark {classes}".strip(), role="img", data_value=repr(float(value)))
    return say(made, told)
