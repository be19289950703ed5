"""Tags read from a picture: every code in it that names a tag of the shop."""

import re

_OF_A_TAG = re.compile(r"(?:^WM:|/t/)([^/?#]+)/?$")


def tags_in(picture: bytes) -> tuple[str, ...]:
    """Give the tags whose codes can be read, each once, in the order of the picture; other codes are passed over."""
    import cv2
    import numpy as np
    import zxingcpp

    image = cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_GRAYSCALE)
    if image is None:
        return ()
    found: dict[str, None] = {}
    for code in zxingcpp.read_barcodes(image):
        match = _OF_A_TAG.search(code.text.strip())
        if match:
            found.setdefault(match[1], None)
    return tuple(found)
