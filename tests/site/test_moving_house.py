"""A whole studio from one data folder to another, by the commands that a person types."""

import signal

import pytest

from tests.site.processes import Visitor, manage, started, with_empty_books

pytestmark = pytest.mark.once


def done(*arguments):
    """What a command said; it must succeed."""
    result = manage(*map(str, arguments))
    assert result.returncode == 0, result.stderr
    return result.stdout


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = with_empty_books(tmp_path_factory.mktemp("demo"))
    done("load_demo", "--data", folder)
    return folder


def test_an_archive_moves_a_studio_and_comes_out_as_it_went_in(demo, tmp_path):
    first, second, new = tmp_path / "1.warpshelf", tmp_path / "2.warpshelf", tmp_path / "new"
    assert "cones" in done("write_archive", first, "--data", demo)
    assert "Nobody can sign in yet" in done("open_archive", first, "--data", new)
    done("write_archive", second, "--data", new)
    assert first.read_bytes() == second.read_bytes()
    assert done("check_books", "--data", new).strip().endswith("The books agree.")
    again = manage("open_archive", str(first), "--data", str(new))
    assert (again.returncode, again.stderr.strip().count("\n")) == (1, 0)
    assert "There is a studio here already" in again.stderr


def test_a_backup_is_not_restored_under_a_server_and_a_new_folder_takes_it(demo, tmp_path):
    said = done("back_up", "--data", demo)
    backup = said.split(" (")[0]
    with started("--data", str(demo)) as server:
        refused = manage("restore", backup, "--data", str(demo))
        assert refused.returncode == 1
        assert server.address in refused.stderr and "Stop it first" in refused.stderr
        assert server.stop(signal.SIGTERM) == (0, "Stopped.\n")
    new = tmp_path / "new"
    said = done("restore", backup, "--data", new)
    assert "Its books agree." in said and "Restored: Larkshed, a demo studio" in said
    with started("--data", str(new)) as server:
        visitor = Visitor(server.address)
        assert visitor.post("/sign-in/demo/", {}, page="/sign-in/").status == 302
        assert visitor.get("/").status == 200
    assert done("check_books", "--data", new).strip().endswith("The books agree.")


def test_a_body_that_the_server_takes_reaches_the_form(tmp_path):
    """The limit of the server lies above that of the pages, so that a page can say what is too large."""
    with started("--data", str(with_empty_books(tmp_path))) as server:
        visitor = Visitor(server.address)
        visitor.get("/welcome/archive/")
        token = next(value for name, value in visitor.cookies.items() if "csrf" in name)
        cut = "cut"
        body = b"".join(
            [
                f'--{cut}\r\nContent-Disposition: form-data; name="csrfmiddlewaretoken"\r\n\r\n{token}\r\n'.encode(),
                f'--{cut}\r\nContent-Disposition: form-data; name="archive"; filename="a.warpshelf"\r\n'.encode(),
                b"Content-Type: application/zip\r\n\r\n",
                b"x" * 61_000_000,
                f"\r\n--{cut}--\r\n".encode(),
            ]
        )
        kind = f"multipart/form-data; boundary={cut}"
        answer = visitor.ask("POST", "/welcome/archive/", body, Content_Type=kind)
        assert answer.status == 422
        assert "larger than the 60 MB that a page takes" in answer.text
