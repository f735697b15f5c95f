"""The hosted page in a browser: installed, without a network, and after the model has changed."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from brinebayes.checking.ready import ready
from brinebayes.knowledge.schema import CheckedModel
from brinebayes.page.export import hosted
from brinebayes.page.serve import server
from tests.page.browser import needs_chromium, phone, reopened, tap

pytestmark = needs_chromium

SMALL = Path(__file__).resolve().parent.parent / "models" / "small"

#: Resolves once the service worker has taken over and nothing is left to be installed.
READY = """async () => {
  const { active } = await navigator.serviceWorker.ready;
  while (active.state !== "activated") await new Promise((then) => setTimeout(then, 20));
}"""


#: Whether the page that the browser keeps has something in it.
KEPT = """async (text) => {
  const kept = await caches.match("./");
  return (await kept.text()).includes(text);
}"""


@pytest.fixture(scope="module")
def small() -> CheckedModel:
    return ready(SMALL)


class Host:
    """Serves some files until it is stopped; they may change meanwhile."""

    def __init__(self, checked: CheckedModel) -> None:
        self.files = hosted(checked)
        self.server = server(self.files, 0)
        self.url = f"http://localhost:{self.server.server_port}/"
        self.thread = threading.Thread(target=self.server.serve_forever)
        self.thread.start()

    def stop(self) -> None:
        """From here on nobody answers."""
        self.server.shutdown()
        self.server.server_close()
        self.thread.join()


@pytest.fixture
def host(small: CheckedModel) -> Iterator[Host]:
    """The small model's page, served."""
    found = Host(small)
    yield found
    if found.thread.is_alive():
        found.stop()


class TestInstalled:
    """What a host serves is kept by the browser."""

    def test_the_manifest_is_one(self, host: Host) -> None:
        with phone(host.url, offline=False) as page:
            found = page.context.new_cdp_session(page).send("Page.getAppManifest")
        assert found["errors"] == []
        assert found["url"] == f"{host.url}manifest.webmanifest"
        assert json.loads(found["data"])["display"] == "standalone"

    def test_without_a_host_after_the_first_time(self, host: Host, small: CheckedModel) -> None:
        with phone(host.url, offline=False) as page:
            page.evaluate(READY)
            host.stop()
            page = reopened(page)
            assert page.title() == f"Job sheet: {small.model.about.name}"
            tap(page, "Begin a new visit")
            assert page.locator("button.answer").count() > 0

    def test_a_changed_model_is_there_the_time_after_next(
        self, host: Host, small: CheckedModel
    ) -> None:
        """The next opening still shows what is kept, and fetches the new one beside it."""
        about = replace(small.model.about, name="Another unit")
        with phone(host.url, offline=False) as page:
            page.evaluate(READY)
            host.files.update(hosted(CheckedModel(replace(small.model, about=about), ())))
            titles = []
            for _ in range(2):
                page = reopened(page)
                titles.append(page.title())
                page.wait_for_function(KEPT, arg="Another unit")
            host.stop()
            titles.append(reopened(page).title())
        assert titles == [f"Job sheet: {n}" for n in (small.model.about.name, *2 * [about.name])]
