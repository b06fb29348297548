"""JupyterLab or Voilà on a free loopback port, and Chromium on it, for the browser tests.

Everything that either of them writes goes into one temporary folder; the notebooks are copies, because the
page saves by itself.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update"]  # fmt: skip
HERE = ".jp-NotebookPanel:not(.lm-mod-hidden)"  # the notebook in sight, where several are open
_PROMPTS = f"[...document.querySelectorAll('{HERE} .jp-CodeCell .jp-InputPrompt')]"
_DONE = """() => {
  const prompts = PROMPTS.map(p => p.innerText.trim());
  return prompts.length > 0 && prompts.every(p => /^\\[\\d+\\]:?$/.test(p));
}""".replace("PROMPTS", _PROMPTS)
_OVERFLOW = """panel => {
  const edge = panel.closest('.jp-OutputArea-output').getBoundingClientRect().right + 1, found = [];
  for (const x of panel.querySelectorAll('label, input, button, select, img, .widget-slider')) {
    const box = x.getBoundingClientRect();
    if (box.width && box.right > edge) found.push(x.tagName + ' sticks out by ' + (box.right - edge));
    if (x.tagName == 'LABEL' && x.scrollWidth > x.clientWidth) found.push('label is cut: ' + x.innerText);
  }
  return found;
}"""
_IDLE = (
    "() => [...document.querySelectorAll('.jp-StatusBar-TextItem')].some(x => /\\| Idle/.test(x.innerText))"
)


def free_port() -> int:
    """A port of the loopback address that nobody uses now."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


@dataclass(frozen=True)
class Server:
    """A running JupyterLab: its address, its token and its settings."""

    address: str
    token: str
    config: Path

    def settings(self, dark: bool = False) -> None:
        """Plain notebooks in the page, no announcements, and the theme, for pages opened from now on."""
        user = "lab/user-settings/@jupyterlab"
        quiet = {"@jupyterlab/apputils-extension:announcements": True}
        theme = "JupyterLab Dark" if dark else "JupyterLab Light"
        texts: dict[str, dict[str, Any]] = {
            f"{user}/notebook-extension/tracker.jupyterlab-settings": {"windowingMode": "none"},
            f"{user}/apputils-extension/notification.jupyterlab-settings": {"fetchNews": "false"},
            f"{user}/apputils-extension/themes.jupyterlab-settings": {"theme": theme},
            "labconfig/page_config.json": {"disabledExtensions": quiet},
        }
        for name, content in texts.items():
            path = self.config / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(json.dumps(content), encoding="utf-8")

    def end_kernels(self) -> None:
        """Shut down every kernel of this server, so that they do not pile up in memory."""
        for kernel in json.loads(self._ask("GET", "kernels")):
            self._ask("DELETE", f"kernels/{kernel['id']}")

    def _ask(self, method: str, what: str) -> bytes:
        head = {"Authorization": f"token {self.token}"}
        request = urllib.request.Request(f"{self.address}/api/{what}", headers=head, method=method)
        with urllib.request.urlopen(request, timeout=30) as answer:
            return bytes(answer.read())


@contextlib.contextmanager
def lab_server(notebooks: Path, folder: Path, voila: bool = False) -> Iterator[Server]:
    """Start JupyterLab or Voilà on a copy of the notebooks, with folders of its own for what it writes."""
    shutil.copytree(notebooks, folder / "notebooks", ignore=shutil.ignore_patterns(".ipynb_checkpoints"))
    port, token = free_port(), secrets.token_hex(16)
    running = Server(f"http://127.0.0.1:{port}", token, folder / "config")
    running.settings()
    places = {f"JUPYTER_{name.upper()}_DIR": str(folder / name) for name in ("config", "data", "runtime")}
    environment = {
        **{name: value for name, value in os.environ.items() if name != "PYTEST_VERSION"},  # as a user has it
        **places,
        "IPYTHONDIR": str(folder / "ipython"),
        "JUPYTER_PLATFORM_DIRS": "1",
    }
    environment["JUPYTERLAB_WORKSPACES_DIR"] = str(folder / "workspaces")
    command = [sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ServerApp.ip=127.0.0.1",
               f"--ServerApp.port={port}", "--ServerApp.port_retries=0", f"--IdentityProvider.token={token}",
               f"--ServerApp.root_dir={folder / 'notebooks'}"]  # fmt: skip
    if voila:
        command = [sys.executable, "-m", "voila", "--no-browser", "--Voila.ip=127.0.0.1", f"--port={port}",
                   str(folder / "notebooks")]  # fmt: skip
    log = folder / "server.log"
    with log.open("wb") as out:
        server = subprocess.Popen(
            command, env=environment, cwd=folder, stdout=out, stderr=out, start_new_session=True
        )
        try:
            _wait_for(running.address if voila else f"{running.address}/api?token={token}", server, log)
            yield running
        finally:
            os.killpg(server.pid, signal.SIGTERM)  # the server and its kernels, a session of their own
            with contextlib.suppress(subprocess.TimeoutExpired):
                server.wait(10)
            with contextlib.suppress(ProcessLookupError):
                os.killpg(server.pid, signal.SIGKILL)


def _wait_for(address: str, server: subprocess.Popen[bytes], log: Path, patience: float = 60.0) -> None:
    end = time.monotonic() + patience
    while time.monotonic() < end and server.poll() is None:
        try:
            with urllib.request.urlopen(address, timeout=2):
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.2)
    raise RuntimeError("the server did not start:\n" + log.read_text(errors="replace")[-2000:])


class LabPage:
    """One notebook in one fresh workspace of JupyterLab."""

    def __init__(self, page: Any, server: Server, notebook: str) -> None:
        self.page = page
        workspace = f"{server.address}/lab/workspaces/w{secrets.token_hex(4)}"  # else earlier tabs come back
        page.goto(f"{workspace}/tree/{notebook}?token={server.token}")
        page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=60_000)
        page.wait_for_function(_IDLE, timeout=60_000)  # a run that is asked for earlier is silently lost

    def run_all(self, patience: float = 120.0) -> None:
        """Run > Run All Cells, and wait until every code cell has its count."""
        self.page.evaluate(f"{_PROMPTS}.forEach(p => p.innerText = '')")
        began, end = False, time.monotonic() + patience
        while not began and time.monotonic() < end:  # asked again where a kernel was not ready to hear it
            self.page.locator(".lm-MenuBar-itemLabel", has_text="Run").first.click()
            self.page.locator(".lm-Menu-item[data-command='runmenu:run-all']").click()
            self.page.wait_for_timeout(2000)
            began = self.page.evaluate(f"{_PROMPTS}.some(p => /[*\\d]/.test(p.innerText))")
        self.page.wait_for_function(_DONE, timeout=patience * 1000)
        self.idle()

    def idle(self) -> None:
        """Wait until the kernel has nothing to do."""
        self.page.wait_for_function(_IDLE, timeout=60_000)

    def faults(self) -> list[str]:
        """The words of every error and stderr output."""
        kinds = ("error", "stderr")
        found = ",".join(f"[data-mime-type='application/vnd.jupyter.{kind}']" for kind in kinds)
        broken = self.page.locator(".jp-OutputArea-output", has_text="Error displaying widget")
        return self.page.locator(found).all_inner_texts() + broken.all_inner_texts()

    def panel(self, title: str) -> Any:
        """The panel with this heading."""
        heading = self.page.locator(f"b:text-is('{title}')")
        return self.page.locator(f"{HERE} .jp-OutputArea-output .widget-vbox").filter(has=heading).first

    def row(self, panel: Any, label: str) -> Any:
        """The row with the box and the slider of this label."""
        return panel.locator(".widget-hbox").filter(has=self.page.locator(f"label:has-text('{label}')")).first

    def press(self, panel: Any, label: str, key: str, times: int = 1) -> None:
        """Move a slider by keyboard."""
        handle = self.row(panel, label).locator(".noUi-handle").first
        handle.focus()
        for _ in range(times):
            handle.press(key)

    def type_into(self, panel: Any, label: str, text: str) -> None:
        """Type a value into the box of a control, and leave it with the enter key."""
        box = self.row(panel, label).locator("input[type=text]").first
        box.fill(text)
        box.press("Enter")

    def state(self, panel: Any, label: str) -> dict[str, str]:
        """What the panel shows: its first picture, the words beside it, and one control's box."""
        picture = panel.locator("img").first
        return {
            "picture": picture.get_attribute("src"),
            "alt": picture.get_attribute("alt"),
            "box": self.row(panel, label).locator("input[type=text]").first.input_value(),
        }

    def settled(self, panel: Any, quiet: float = 0.5, patience: float = 20.0) -> None:
        """Wait until the panel's picture has not changed for a while."""
        end, last, since = time.monotonic() + patience, None, time.monotonic()
        while time.monotonic() < end:
            now = panel.locator("img").first.get_attribute("src")
            if now != last:
                last, since = now, time.monotonic()
            elif time.monotonic() - since > quiet:
                return
            self.page.wait_for_timeout(50)
        raise RuntimeError("the panel's picture does not come to rest")

    def shows(self, panel: Any, words: str, patience: float = 10.0) -> None:
        """Wait until the panel shows these words."""
        panel.get_by_text(words).first.wait_for(timeout=patience * 1000)

    def overflow(self, panel: Any) -> list[str]:
        """What sticks out of the panel on the right, or is cut, in words."""
        return panel.evaluate(_OVERFLOW)

    def shoot(self, path: Path, wide: int, panel: Any = None) -> None:
        """A screenshot at a window width, of the page or of a panel."""
        self.page.set_viewport_size({"width": wide, "height": 900 if panel is None else 1400})
        self.page.wait_for_timeout(600)
        if panel is not None:
            panel.scroll_into_view_if_needed()
        (panel if panel is not None else self.page).screenshot(path=path)

    def shoot_all(self, path: Path, wide: int) -> None:
        """A screenshot of the whole notebook at a window width: a window as tall as the notebook."""
        self.page.set_viewport_size({"width": wide, "height": 900})
        self.page.wait_for_timeout(600)
        tall = self.page.evaluate(
            "document.querySelector('.jp-Notebook .jp-WindowedPanel-viewport').scrollHeight"
        )
        self.page.set_viewport_size({"width": wide, "height": min(int(tall) + 200, 9000)})
        self.page.wait_for_timeout(600)
        self.page.evaluate("document.querySelector('.jp-Notebook .jp-WindowedPanel-outer').scrollTop = 0")
        self.page.screenshot(path=path)
