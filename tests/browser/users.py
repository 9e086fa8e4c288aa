"""People who may log in, for tests of the page."""
import subprocess

from whole.bench_at_work import BUILD

PASSWORD = "a sharp pencil"


def users_file(folder, **people):
    """A users file in which each name has its role and the one password."""
    file = folder / "users.json"
    for name, role in people.items():
        said = subprocess.run([BUILD / "stillmark", "users", file, "add", name, "--role", role], input=PASSWORD + "\n",
                              capture_output=True, text=True, timeout=60, check=False)
        if said.returncode != 0:
            raise AssertionError(said.stderr)
    return file
