"""What all tests share: a way to say that a machine lacks something, and CI's refusal of that excuse."""

import os

# Two processes share two cores: threads of the linear algebra would only wait for each other.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import pytest  # noqa: E402
from hypothesis import settings  # noqa: E402

# The same examples every time, so that a change is judged by itself; TREATMENT_EXAMPLES asks for fresh ones.
settings.register_profile("fixed", derandomize="TREATMENT_EXAMPLES" not in os.environ)
settings.load_profile("fixed")


def lacking(reason: str) -> None:
    """Skip because the machine lacks something; fail where CI has installed it (TREATMENT_NO_SKIP=1)."""
    if os.environ.get("TREATMENT_NO_SKIP") == "1":
        pytest.fail(f"this machine should have it: {reason}")
    pytest.skip(reason)


@pytest.fixture
def lack():
    return lacking
