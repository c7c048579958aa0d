"""What a result rests on: the code's hash and the libraries."""

import subprocess
import sys

from review.provenance import LIBRARIES, code_hash, libraries


def test_the_hash_is_the_same_in_every_process():
    program = "from review.provenance import code_hash; print(code_hash())"
    other = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert other.stdout.strip() == code_hash()


def test_the_hash_moves_with_any_file(tmp_path, monkeypatch):
    from review import provenance

    (tmp_path / "a.py").write_text("x = 1\n")
    fake = type("Package", (), {"__file__": str(tmp_path / "__init__.py")})
    monkeypatch.setattr(provenance, "import_module", lambda name: fake)
    hashes = set()
    for text in ("x = 1\n", "x = 2\n"):
        (tmp_path / "a.py").write_text(text)
        hashes.add(code_hash.__wrapped__())
    (tmp_path / "a.py").rename(tmp_path / "b.py")
    hashes.add(code_hash.__wrapped__())
    (tmp_path / "table.yaml").write_text("x: 1\n")
    hashes.add(code_hash.__wrapped__())
    assert len(hashes) == 4
    (tmp_path / "__pycache__").mkdir()
    (tmp_path / "__pycache__" / "b.pyc").write_bytes(b"compiled")
    assert code_hash.__wrapped__() in hashes


def test_every_library_that_numbers_depend_on_has_a_version():
    assert tuple(libraries()) == LIBRARIES
    assert all(libraries().values())
