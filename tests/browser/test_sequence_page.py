"""The order of work on the screen, opened from disk in Chromium, which is the judge of what it draws and does."""

import hashlib
import io
import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Browser, Page

from fabplan.model.plan import Plan
from fabplan.sheets import sequence_page as module
from fabplan.sheets.sequence_page import sequence_page
from tests.browser.conftest import Open

HURT = ["<script>window.hurt=1</script>", '"><img src=x onerror=hurt=1>', "</script><svg onload=hurt=1>", "'`${hurt=1}"]
ORANGE, RED = (240, 160, 48), (192, 24, 24)  # what comes in; what is driven now


@pytest.fixture(scope="module")
def bowser(bowser_plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "sequence.html"
    path.write_text(sequence_page(bowser_plan), "utf-8")
    return path


def ready(page: Page) -> Page:
    page.wait_for_selector(".order.drawn")
    settle(page)
    return page


def settle(page: Page) -> None:
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def at(page: Page, step: int) -> None:
    page.locator("#at").evaluate("(one, step) => { one.value = step; one.dispatchEvent(new Event('input')) }", step)
    settle(page)


def pixels(page: Page) -> NDArray[np.int64]:
    shot = page.locator("#body").screenshot()
    return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"), dtype=np.int64)


def of_colour(shot: NDArray[np.int64], colour: tuple[int, int, int]) -> NDArray[np.bool_]:
    """Pixels of a colour's own tone, however the lamp shades it."""
    own = np.array(colour, dtype=np.float64)
    bright = np.linalg.norm(shot, axis=2)
    alike = (shot @ own) / np.maximum(bright * np.linalg.norm(own), 1e-9)
    found: NDArray[np.bool_] = (alike > 0.995) & (bright > 60.0)
    return found


def inner(area: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Pixels whose neighbours on all sides are of the area too."""
    shifted = [np.roll(area, (dy, dx), axis=(0, 1)) for dy in (-1, 0, 1) for dx in (-1, 0, 1)]
    found: NDArray[np.bool_] = np.all(shifted, axis=0)
    return found


def numbered(plan: Plan, title: str) -> int:
    """The number of the step that has a title."""
    assert plan.sequence is not None
    return next(step.number for step in plan.sequence.steps if step.title.startswith(title))


def own_words(said: list[str]) -> list[str]:
    """What the console said, but for the graphics driver's own remarks on screenshots."""
    return [line for line in said if "GL Driver Message" not in line]


def test_it_opens_from_disk_asks_for_nothing_and_steps_by_slider_and_keys(
    bowser: Path, bowser_plan: Plan, opened: Open
) -> None:
    """Pieces and rivets of each step counted here from the plan's own steps.

    Rivets of a sub-assembly are shown on the bench, and then no more till all that they hold stands again.
    """
    report = opened(bowser)
    page = ready(report.page)
    assert bowser_plan.sequence is not None
    assert bowser_plan.stacks is not None
    steps, stacks = bowser_plan.sequence.steps, bowser_plan.stacks
    driven: list[int] = []
    shown: list[int] = []
    for step in steps:
        driven += [i for work in step.work for i in work.rivets.tolist()]
        there = {*step.present, *step.parts, *(one.instance for one in step.off)}  # before it is parted
        shown.append(sum(there.issuperset(stacks.ply_instance[slice(*stacks.first[i : i + 2])]) for i in driven))
        pieces = len(there)
        label = page.locator("#body").get_attribute("aria-label") or ""
        assert re.findall(r"\d+", label) == [str(n) for n in (step.number, len(steps), pieces, shown[-1])]
        assert page.locator("article:visible h2").all_inner_texts() == [f"{step.number}: {step.title}"]
        page.keyboard.press("ArrowRight")
    assert (len(driven), shown[-1]) == (1266, 1266)
    assert shown[numbered(bowser_plan, "On the bench, rivet H1 to T1") - 1] == 50  # the ring's own, all else is away
    page.locator("#at").focus()
    page.keyboard.press("ArrowLeft")
    assert page.locator("#which").inner_text() == f"step {len(steps) - 1} of {len(steps)}"
    page.keyboard.press("Home")
    assert page.locator("#which").inner_text() == f"step 1 of {len(steps)}"
    assert own_words(report.said) == []
    assert report.asked == [bowser.as_uri()]


def test_what_comes_in_is_coloured_and_what_is_not_there_is_not_drawn(
    bowser: Path, bowser_plan: Plan, opened: Open
) -> None:
    page = ready(opened(bowser).page)
    first = pixels(page)
    assert of_colour(first, ORANGE).sum() > 5000
    drawn = (first < 250).any(axis=2).sum()
    at(page, numbered(bowser_plan, "Dry fit"))  # nothing new, the whole body
    fitted = pixels(page)
    assert of_colour(fitted, ORANGE).sum() == 0
    assert (fitted < 250).any(axis=2).sum() > 2 * drawn
    assert of_colour(fitted, RED).sum() == 0
    at(page, numbered(bowser_plan, "Put in T1"))
    assert of_colour(pixels(page), RED).sum() > 100


def test_a_picked_rivet_tells_its_number_and_size(bowser: Path, bowser_plan: Plan, opened: Open) -> None:
    page = ready(opened(bowser).page)
    assert bowser_plan.sequence is not None
    whole = [step for step in bowser_plan.sequence.steps if step.work and len(step.present) > 10]
    for one in whole:  # until some rivets are seen whole from this side
        at(page, one.number)
        red = np.argwhere(inner(of_colour(pixels(page), RED)))
        if len(red):
            break
    box = page.locator("#body").bounding_box()
    assert box is not None
    y, x = red[len(red) // 2].tolist()
    page.mouse.click(box["x"] + x + 0.5, box["y"] + y + 0.5)
    told = page.locator("#picked").inner_text()
    seams = "|".join(bowser_plan.job.seams[run.seam].mark for run in one.work)
    assert re.fullmatch(rf"rivet ({seams}) \d+: 10 x \d+ round, driven at step {one.number}", told)
    y, x = red.mean(axis=0).tolist()  # amid the rivets of its edges lies the plate
    page.mouse.click(box["x"] + x + 0.5, box["y"] + y + 0.5)
    assert bowser_plan.body is not None
    assert page.locator("#picked").inner_text() in {f"piece {one.mark}" for one in bowser_plan.body.instances}


def test_it_turns_moves_and_comes_nearer(bowser: Path, opened: Open) -> None:
    page = ready(opened(bowser).page)
    box = page.locator("#body").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2.0, box["y"] + box["height"] / 2.0
    whole = pixels(page)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 120.0, y + 40.0)
    page.mouse.up()
    settle(page)
    turned = pixels(page)
    assert (turned != whole).any(axis=2).sum() > 2000
    page.mouse.wheel(0.0, -400.0)
    settle(page)
    assert of_colour(pixels(page), ORANGE).sum() > 1.5 * of_colour(turned, ORANGE).sum()
    page.get_by_label("show the whole body").click()
    settle(page)
    assert (pixels(page) != whole).any(axis=2).sum() < 50


@pytest.mark.parametrize("scripts", [True, False])
def test_without_webgl_or_scripts_it_says_so_and_the_words_stand(
    bowser: Path, bowser_plan: Plan, browser: Browser, *, scripts: bool
) -> None:
    assert bowser_plan.sequence is not None
    context = browser.new_context(offline=True, java_script_enabled=scripts)
    page = context.new_page()
    page.add_init_script("HTMLCanvasElement.prototype.getContext = () => null")
    page.goto(bowser.as_uri())
    page.wait_for_timeout(500)
    assert "scripts switched on and WebGL 2" in page.locator(".undrawn:visible").inner_text()
    assert page.locator("article:visible").count() == len(bowser_plan.sequence.steps)
    assert page.locator("#at:visible, #body:visible").count() == 0
    context.close()


def test_what_a_job_says_does_nothing(lap_plan: Plan, tmp_path: Path, opened: Open) -> None:
    assert lap_plan.body is not None
    assert lap_plan.stacks is not None
    assert lap_plan.sequence is not None
    bad = "".join(HURT)
    job = replace(lap_plan.job, title=bad, number=bad, revision=bad, date=bad,
                  seams=tuple(replace(one, mark=bad) for one in lap_plan.job.seams))  # fmt: skip
    body = replace(lap_plan.body, instances=tuple(replace(one, mark=f"{one.mark}{bad}") for one in
                                                  lap_plan.body.instances))  # fmt: skip
    stacks = replace(lap_plan.stacks, number=tuple(f"{bad} {k}" for k in range(len(lap_plan.stacks))))
    steps = tuple(replace(one, title=bad, reason=bad, checks=(bad,), cautions=(bad,)) for one in
                  lap_plan.sequence.steps)  # fmt: skip
    sequence = replace(lap_plan.sequence, steps=steps)
    path = tmp_path / "sequence.html"
    path.write_text(sequence_page(replace(lap_plan, job=job, body=body, stacks=stacks, sequence=sequence)), "utf-8")
    report = opened(path)
    page = ready(report.page)
    for step in range(1, len(steps) + 1):
        at(page, step)
    box = page.locator("#body").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] / 2.0, box["y"] + box["height"] / 2.0)
    assert "onerror=hurt=1" in page.locator("#picked").inner_text()
    assert page.evaluate("window.hurt") is None
    assert own_words(report.said) == []
    assert report.asked == [path.as_uri()]
    assert page.locator("script").count() == 3
    assert page.locator("img, svg, [onload], [onerror]").count() == 0


def test_the_policy_lets_no_other_script_run(bowser: Path, opened: Open) -> None:
    report = opened(bowser)
    page = ready(report.page)
    page.evaluate(
        "() => { const one = document.createElement('script'); one.textContent = 'window.hurt = 1'; "
        "document.body.append(one) }"
    )
    settle(page)
    assert page.evaluate("window.hurt") is None
    assert any("Content Security Policy" in line for line in report.said)


def test_a_body_beyond_the_limit_leaves_the_words(
    lap_plan: Plan, tmp_path: Path, opened: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_BYTES", 1000)
    path = tmp_path / "sequence.html"
    path.write_text(sequence_page(lap_plan), "utf-8")
    report = opened(path)
    assert "open body.glb beside it" in report.page.locator(".struck").inner_text()
    assert lap_plan.sequence is not None
    assert report.page.locator("article:visible").count() == len(lap_plan.sequence.steps)
    assert report.said == []


@pytest.mark.parametrize("width", [360, 768, 1600])
def test_it_fits_its_window(bowser: Path, opened: Open, width: int) -> None:
    page = ready(opened(bowser, width, 740).page)
    for step in (1, 12, 20):
        at(page, step)
        assert page.evaluate("document.documentElement.scrollWidth") == width


def test_the_drawing_library_is_as_published() -> None:
    """SHA-256 of build/three.module.min.js in the package three 0.170.0 of the npm registry."""
    content = (files("fabplan.sheets") / "data" / "three.module.min.js").read_bytes()
    published = "08fd7545d13d2c7fb65ab691530a802dafefd638596501854f267d0fb13c39e7"
    assert hashlib.sha256(content).hexdigest() == published


def test_the_same_plan_gives_the_same_bytes(lap_plan: Plan) -> None:
    assert sequence_page(lap_plan) == sequence_page(lap_plan)
