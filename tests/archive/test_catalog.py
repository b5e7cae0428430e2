"""The catalogue is valid STAC and plain HTML, whole, escaped, and written only where it changed."""

from __future__ import annotations

import json
import shutil
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import pystac
import pytest

from archive.samples import minute_file, with_attributes
from archive.small import SOFTWARE, put, small_archive
from sunledger.archive import catalog
from sunledger.archive.catalog import write_catalog
from sunledger.archive.changes import Made
from sunledger.archive.digest import file_sha256
from sunledger.archive.findings_file import FindingsFile, findings_path, write_findings
from sunledger.archive.verify import verify
from sunledger.archive.withdraw import withdraw
from sunledger.errors import ArchiveError

VOID = {"meta", "br", "path", "img", "link", "circle"}


class Reader(HTMLParser):
    """Checks that elements nest, and collects links, identifiers and texts."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.links: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take in an element."""
        self.tags.append((tag, dict(attrs)))
        if tag == "a":
            self.links.append(str(dict(attrs)["href"]))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Close an element, which must be the one opened last."""
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Take in text."""
        self.text.append(data)


def read(path: Path) -> Reader:
    """A page as read."""
    reader = Reader()
    reader.feed(path.read_text(encoding="utf-8"))
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small archive with its catalogue."""
    archive = small_archive(tmp_path_factory.mktemp("catalog") / "archive")
    write_catalog(archive)
    return archive


@pytest.fixture
def archive(built: Path, tmp_path: Path) -> Path:
    """A copy that may be changed."""
    return Path(shutil.copytree(built, tmp_path / "archive"))


def test_stac_is_valid_and_walks_to_the_files(built: Path) -> None:
    """Validated by pystac against the STAC 1.1.0 schemas it ships."""
    root = pystac.Catalog.from_file(str(built / "catalog" / "catalog.json"))
    root.validate()
    items = list(root.get_items(recursive=True))
    assert {i.id for i in items} == {"ossel-2031-03", "ossel-2031"}
    for collection in root.get_children():
        collection.validate()
    for item in items:
        item.validate()
        for asset in item.assets.values():
            path = Path(str(asset.get_absolute_href()))
            assert path.is_file()
            assert asset.extra_fields["sunledger:sha256"] == file_sha256(path)
            assert asset.extra_fields["sunledger:bytes"] == path.stat().st_size


@pytest.mark.parametrize("name", ["index.html", "ossel/index.html"])
def test_page_nests_leads_somewhere_and_needs_no_script(built: Path, name: str) -> None:
    path = built / "catalog" / name
    page = read(path)
    names = [tag for tag, _ in page.tags]
    assert names.count("h1") == names.count("main") == 1
    assert names.count("title") == 1 + names.count("circle")  # one names the page, one each dot
    assert "script" not in names
    assert dict(page.tags)["html"] == {"lang": "en"}
    assert ("meta", {"name": "viewport", "content": "width=device-width, initial-scale=1"}) in (
        page.tags
    )
    ids = {a.get("id") for _, a in page.tags}
    for link in page.links:
        if link.startswith("#"):
            assert link[1:] in ids
        else:
            assert (path.parent / unquote(link)).is_file(), link
    pictures = [a for tag, a in page.tags if tag == "svg"]
    assert pictures
    assert all(a["role"] in ("img", "group") and a["aria-label"] for a in pictures)
    headers = [a for tag, a in page.tags if tag == "th"]
    assert all("scope" in a for a in headers)


def test_station_page_tells_what_is_needed(built: Path) -> None:
    words = " ".join(read(built / "catalog" / "ossel" / "index.html").text)
    path = built / "ossel" / "minute" / "ossel_minute_2031-03.nc"
    for said in (
        "Össel Ridge",
        "46.8000° N",
        "How to cite",
        "open_mfdataset",
        "2031-03",
        "100.0 % of minutes",
        "good",
        file_sha256(path),
        "version 2, provisional",
        "=certificate N-001",
    ):
        assert said in words, said
    assert "of samples" in words  # the size of the revision


def test_nothing_is_written_twice(archive: Path) -> None:
    assert write_catalog(archive) == ()


def test_one_file_a_station_is_opened(built: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[Path] = []
    read = catalog.read_file
    monkeypatch.setattr(catalog, "read_file", lambda p, **k: opened.append(p) or read(p, **k))
    shutil.rmtree(built / "catalog")
    assert write_catalog(built)
    assert [p.name for p in opened] == ["ossel_minute_2031-03.nc"]


def test_only_what_changed_is_written(archive: Path) -> None:
    withdraw(archive / "ossel", "minute", "2031-03", "<b>wrong & doubtful</b>", "2031-11-02")
    written = {str(p.relative_to(archive / "catalog")) for p in write_catalog(archive)}
    assert written == {"ossel/2031-03.json", "ossel/index.html"}
    page = (archive / "catalog" / "ossel" / "index.html").read_text(encoding="utf-8")
    assert "Withdrawn, do not use: &lt;b&gt;wrong &amp; doubtful&lt;/b&gt;" in page
    assert "<b>" not in page


def test_free_text_cannot_become_markup(tmp_path: Path) -> None:
    evil = "</title><script>alert(1)</script>\" onload='x"
    spec = with_attributes(minute_file(days=1), title=evil, summary=evil, license=evil)
    put(tmp_path / "a", spec, Made("minute", "2031-03", "", "2031-04-05", SOFTWARE, evil))
    write_catalog(tmp_path / "a", tmp_path / "site")
    for name in ("index.html", "ossel/index.html"):
        page = read(tmp_path / "site" / name)
        assert "script" not in [tag for tag, _ in page.tags]
        assert not any("onload" in a for _, a in page.tags)


def test_catalogue_elsewhere_links_back(built: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    write_catalog(built, site)
    item = json.loads((site / "ossel" / "2031.json").read_text())
    href = item["assets"]["monthly"]["href"]
    assert (site / "ossel" / unquote(href)).is_file()


def test_catalogue_is_no_foreign_file(built: Path) -> None:
    assert verify(built) == ()


def test_refused(built: Path, tmp_path: Path) -> None:
    for wrong in (built, built / "ossel"):
        with pytest.raises(ArchiveError, match="needs a folder of its own"):
            write_catalog(built, wrong)
    with pytest.raises(ArchiveError, match="holds no published file"):
        write_catalog(tmp_path)


def test_findings_stand_on_the_page_escaped(archive: Path) -> None:
    folder = archive / "ossel"
    row = {
        "name": "level_step", "target": "global_1", "size": 0.9, "unit": "degree", "lower": 0.7,
        "upper": 1.1, "action": "level it <now>", "cannot_tell": [],
    }  # fmt: skip
    page = folder.parent / "catalog" / "ossel" / "index.html"
    assert "no diagnosis was made" in page.read_text(encoding="utf-8")
    write_findings(findings_path(folder, "2031-03"), FindingsFile({"period": "2031-03"}, (row,)))
    write_catalog(archive)
    assert "level step (global_1): 0.9 degree (0.7 to 1.1); level it &lt;now&gt;" in page.read_text(
        encoding="utf-8"
    )
    write_findings(findings_path(folder, "2031-03"), FindingsFile({"period": "2031-03"}))
    write_catalog(archive)
    assert "Findings: none." in page.read_text(encoding="utf-8")
