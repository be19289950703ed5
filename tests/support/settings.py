"""The program's own settings in a data folder that lasts as long as the tests run."""

import atexit
import os
import shutil
import tempfile

_folder = tempfile.mkdtemp(prefix="witnessmark-tests-")
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["WITNESSMARK_DATA"] = _folder

from witnessmark.settings import *

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
