"""Two pairs of hands for the board's page: one uses the mouse, the other the keyboard and nothing else."""

from __future__ import annotations

from typing import Literal

from playwright.sync_api import Page

Hands = Literal["mouse", "keyboard"]
#: More presses of Tab than there are things to reach.
_MOST_STEPS = 60


def reach(page: Page, control: str) -> None:
    """Go to ``control`` with Tab alone, as often as it takes; fails where it cannot be reached."""
    for _ in range(_MOST_STEPS):
        if page.evaluate("document.activeElement.id") == control:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not lead to {control}")


def use(page: Page, hands: Hands, control: str) -> None:
    """Press a button, or change over a box."""
    if hands == "mouse":
        page.click(f"#{control}")
    else:
        reach(page, control)
        page.keyboard.press("Enter")


def choose(page: Page, hands: Hands, control: str, value: str) -> None:
    """Choose a value of a list: the mouse by its name, the keyboard by going through it."""
    if hands == "mouse":
        page.select_option(f"#{control}", value)
        return
    reach(page, control)
    page.keyboard.press("Home")
    for _ in range(_MOST_STEPS):
        if page.input_value(f"#{control}") == value:
            return
        page.keyboard.press("ArrowDown")
    raise AssertionError(f"no {value} in {control}")


def slide(page: Page, hands: Hands, control: str) -> None:
    """Move a slider to its upper end."""
    if hands == "keyboard":
        reach(page, control)
        page.keyboard.press("End")
        return
    box = page.locator(f"#{control}").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"], box["y"] + box["height"] / 2, steps=4)
    page.mouse.up()


def open_panel(page: Page, hands: Hands, name: str) -> None:
    """Open the panel that ``name`` opens."""
    panel = f"panel-{name}"
    if hands == "mouse":
        page.click(f"[aria-controls={panel}]")
    else:
        for _ in range(_MOST_STEPS):
            if page.evaluate("document.activeElement.getAttribute('aria-controls')") == panel:
                break
            page.keyboard.press("Tab")
        page.keyboard.press("Enter")
    page.wait_for_selector(f"#{panel}:not([hidden])")
