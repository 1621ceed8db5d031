"""In a real browser: the panel in JupyterLab, and the report as a page."""

import contextlib
import io
import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import nbformat
import pytest

import isolator
from isolator.panels import FOLLOWS

ROOT = Path(__file__).parents[2]
PANEL = "notebooks/the-panel.ipynb"
TOKEN = "only-for-this-test"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
PATIENCE = 120_000
"""How long anything may take on a busy machine. [ms]"""

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
if CHROMIUM is None:
    pytest.skip("chromium is not installed", allow_module_level=True)


@pytest.fixture(scope="module")
def chromium():
    playwright.expect.set_options(timeout=PATIENCE)
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, headless=True, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """Address of a JupyterLab over a copy of notebooks and data."""
    folder = tmp_path_factory.mktemp("lab")
    for name in ("notebooks", "data"):
        shutil.copytree(ROOT / name, folder / name)
    notebook = nbformat.read(folder / PANEL, as_version=4)
    for cell in notebook.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None  # what is seen was run
    nbformat.write(notebook, folder / PANEL)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    own = {f"JUPYTER_{what}_DIR": str(folder / what) for what in ("CONFIG", "DATA", "RUNTIME")}
    settings = folder / "settings" / "@jupyterlab" / "apputils-extension"
    settings.mkdir(parents=True)
    news = '{"fetchNews": "false"}'
    (settings / "notification.jupyterlab-settings").write_text(news, encoding="utf-8")
    own |= {"JUPYTERLAB_SETTINGS_DIR": str(folder / "settings")}
    own |= {"JUPYTERLAB_WORKSPACES_DIR": str(folder / "workspaces")}
    options = {
        "ServerApp.ip": "127.0.0.1",
        "ServerApp.port": port,
        "ServerApp.port_retries": 0,
        "ServerApp.root_dir": folder,
        "ServerApp.open_browser": False,
        "ServerApp.allow_root": True,
        "IdentityProvider.token": TOKEN,
        "LabApp.check_for_updates_class": "jupyterlab.NeverCheckForUpdate",
        "LabApp.news_url": None,
    }
    command = [sys.executable, "-m", "jupyterlab", *(f"--{k}={v}" for k, v in options.items())]
    with (folder / "log").open("w") as log:
        server = subprocess.Popen(
            command, cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT), **own},
            stdout=log, stderr=subprocess.STDOUT,
        )  # fmt: skip
    address = f"http://127.0.0.1:{port}"
    try:
        answers(f"{address}/api?token={TOKEN}", server)
        yield address
    finally:
        server.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            server.wait(10)
        server.kill()


def answers(url, server):
    """Wait until a server that was started does."""
    until = time.monotonic() + PATIENCE / 1e3
    while time.monotonic() < until and server.poll() is None:
        with contextlib.suppress(OSError), urllib.request.urlopen(url, timeout=2):
            return
        time.sleep(0.2)
    pytest.fail("JupyterLab does not start")


def console(page):
    """What a page reports as wrong, as it comes."""
    wrong = []
    page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    return wrong


def test_the_panel_follows_its_controls(chromium, lab):
    tall = {"width": 1400, "height": 4500}  # what is out of sight is not in the page
    page = chromium.new_page(viewport=tall)
    page.set_default_timeout(PATIENCE)
    wrong = console(page)
    page.goto(f"{lab}/lab/tree/{PANEL}?reset&token={TOKEN}")
    page.get_by_text(re.compile(r"^Python 3 .*\| Idle")).wait_for()  # it has its kernel
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name=re.compile("^Run All Cells")).click()
    shown = page.locator(".jp-OutputArea-output .widget-box").first
    verdict = shown.get_by_role("status").first
    playwright.expect(verdict).to_contain_text("Screened: PASS")
    last = page.locator(".jp-OutputArea-output", has_text="in full:")
    playwright.expect(last).to_be_visible()  # all cells have run
    playwright.expect(shown.locator("img")).to_have_count(3)

    room = shown.locator("img").nth(1)
    before = room.get_attribute("src")
    height = shown.locator(".widget-slider", has_text="drop").locator(".widget-readout")
    height.fill("700")
    height.press("Enter")
    playwright.expect(verdict).to_contain_text("Screened: FAIL: drop travel (by van")
    playwright.expect(room).not_to_have_attribute("src", before)
    playwright.expect(shown.get_by_text(FOLLOWS)).to_have_count(0)  # it has followed
    sizes = shown.locator("img").evaluate_all(
        "all => all.map(one => [one.naturalWidth / one.naturalHeight, one.width / one.height])"
    )
    assert all(seen == pytest.approx(made, rel=0.02) for made, seen in sizes)  # none is cut off
    assert wrong == []
    page.close()


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    """A report as it is written."""
    folder = tmp_path_factory.mktemp("report")
    isolator.save_report(isolator.assess(ROOT / "data" / "starter" / "case.toml"), folder)
    return folder / "report.html"


@pytest.mark.parametrize("width", [390, 1280])
def test_the_report_loads_nothing_and_fits(chromium, report, width):
    page = chromium.new_page(viewport={"width": width, "height": 900})
    asked, wrong = [], console(page)
    page.on("request", lambda request: asked.append(request.url))
    page.goto(report.as_uri())
    page.wait_for_load_state("networkidle")
    assert asked == [report.as_uri()]
    assert wrong == []
    picture = page.screenshot(full_page=True)
    assert seen_width(picture) == width
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    wider = page.evaluate(
        """width => [...document.body.querySelectorAll('*')].filter(one =>
            one.getBoundingClientRect().right > width + 1 && !one.closest('.wide')
        ).map(one => one.outerHTML.slice(0, 80))""",
        width,
    )
    assert wider == []
    page.close()


def seen_width(picture):
    """Width of a picture in pixels, which has more than one colour."""
    from matplotlib.image import imread

    pixels = imread(io.BytesIO(picture), format="png")
    assert pixels.std() > 0.01
    return pixels.shape[1]
