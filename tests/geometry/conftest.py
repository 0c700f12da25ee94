import sys
from pathlib import Path

# `recess_rooms` lies beside the folders of tests and is no package.
sys.path.insert(0, str(Path(__file__).parents[1]))
