"""A HEIC as phones write it: the code of tag 1001, encoded once by libheif's own heif-enc (nothing installed here writes one)."""

import base64

TAG_1001 = base64.b64decode(
    """
AAAAHGZ0eXBoZWljAAAAAG1pZjFoZWljbWlhZgAAATxtZXRhAAAAAAAAACFoZGxyAAAAAAAAAABwaWN0AAAAAAAAAAAAAAAAAAAA
AA5waXRtAAAAAAABAAAAImlsb2MAAAAAREAAAQABAAAAAAFgAAEAAAAAAAAGaAAAACNpaW5mAAAAAAABAAAAFWluZmUCAAAAAAEA
AGh2YzEAAAAAvGlwcnAAAACeaXBjbwAAAHRodmNDAQQIAAAAAAAAAAAAPPAA/Pz4+AAADwMgAAEAF0ABDAH//wQIAAADAJ/4AAAD
AAA8ugJAIQABAChCAQEECAAAAwCf+AAAAwAAPMBwgOHd5bqSSmubAgAAAwACAAADAAIQIgABAAdEAcFysGJAAAAAFGlzcGUAAAAA
AAAA3gAAAN4AAAAOcGl4aQAAAAABCAAAABZpcG1hAAAAAAAAAAEAAQOBAoMAAAZwbWRhdAAABmQoAa6kFIzjUQRgKDB74v9bovCn
3nQRJKYrkGv83kIwg+TGyTS65FeYVsMXrXFX4JVChtpiFjI8zO71HI8vP+gCZ8ajFc+L+2oqYHzJAaodprB8afHc3HKsMgQmZGvq
Sh7MY+0oiB5cMB5FpkLWZICsFOi0Mm0PP5sQZLXRK+b9YEio0pKC+fpxAJQz5eWSher7g3qXT+HVFNjGqewH+xQ2pXbr9o0n1MYU
kV8UljVt6a4fDiCxAChRUi53PUA77hn+9kZKgU47McI1d4+FrwfGqAPkTa9ftbbF/F/VZ2BhM2PlKaXmXn2aHpuuj7ibkN8NF7X7
/iCVZ7/9D/TAMlrsLLPAkuAg4fuIxblbcRonwmRENaf451GpWJ4X/Ei0mkFn9uqkbHTDDFwKkoACFiD5mi+zfU45QgZIONSA7Yq5
NbhDSw4wi2EJB8kY4H5UvuM0r2Ds0R+4SEeOqNUWpsu3gG8rqcZc7ZDktfKMBb4v//P0h+XNBxYBOrezi34fmHh8/ewO/yBI0AAk
Asu35/VG/CluAmBQKWWEh//2J+H2xg3cFt4IW0ZoebGSJo8fUvtB9YnXq2oKWob34Ufm8mMKePwt1s78QSTgrcQ5LrOy/3JRO6tg
GsEmRonj8k9n2ifU7geIKfnHdtTO4MkpZ3cp4dwIbZq7bPNjna3bxm9nbn0MicJ2du/d4xMcpBM1/Xy8gU4XRLPNYC76zqG9itPk
4WuEQB/M8RJUrLqzOLiU1qCw6pmBfcuXffpvJQSRFYjWJMnix3yGAVNo2U9RbAPhdUNBYdyVTvPGr2FX8o1uBzYlaMeXJQ+txWKL
xlXKoSb0R0P4zIQNe9dGciCfi7yIrPjrYZRUnr/47eUjdRi+hU7vh+am7OLhBxU93a/qfYsnFv5ATk+TUONA0X5X4kx2EFu7y4yK
sI0B0sJd3IyFpuDflqBRrRswM/yEx0p11OLsR3QcCTz0ZXFgFBe+u+0lEjSO5lu74pzJFukEBk4HDr6mVX9M24NKddhfLHWP5gG8
nGWhpsMh4YSls6fP6PLttbxnqi0gczWjobfGMpGmA3dBEzpqf6KCJjCUQ5oq+g55GYd5gxlKvrsCWoQH3VbPScvQFrJnGvtmyA4Q
Uj1JDeXGCJPD0LlC6oxO4eodwo2EOQvmGS/xNlnk4bidksXFWu9IEuUxR41hJcD2O0aRj1b0VPM9ISLxOetsS84rCMYNyud6RSG9
+MFCekfBsFKLbR84Zm+FKhwrCSgq6tYdFs12FR2O9bhrzgmGy71RoJpAg7D/JqREsWvfXlztau9dcWRbHWLQY7hm2YttASZmeSx+
ayGLL0P7qrjgCeEN0GIL3t5u+80JVSQPO3MeNSvTLbYJbhFONXY0iHmboOwjVLU/YF99z/LPxuSThiJafoWZAUPI4J/oMezx+yZL
a/vYmLnrYhbnH88uPvh9eYCpV0uks/8YJvXWr5KSZe8HCLIYN0LvM9A7jEeefqnFVoTJgNF2JWLyiXJoPujr32iLcW6w8eSH3IRF
RhGftpFNDGrqkM21Q4pejTOHN3wQQYk9Hv//5hsS5xjCHmKUKPj/PPGMqQHoRl+UHaB2Yo89Fg89kg040PrE0W9MDeZzIGzRmZM3
/TGv5ZgIR9zWK9NRjlCLsM3ahrHTU8ojs2ydgVclae8QJo27xNaSh9S33otnQWDRrYtuvZj8FgNTvyw2mc0GUW1ycSAc8KO0goa2
sLRvoB34l1y6kkiFs8pvjDt3m14IHzxsNb5xSgaigNEWZJMy3LEQ+25mbcBsoiyIWrY+0gq+CyZ8FuV4bRdA19PbTn9SmXTEk08G
hDELVwJ8v7lL1m6h3ukFGdYPpibEAI6RqGmv0jBw1tFj6DCkRHrjTFkl0tMGTEYGn48hnB+g4K7I6tVlt46MCzuPop/ldZFpZEln
4WDUDUJHRbii54fBZtGe5yWzhcOmTHJYMn5wGSO3M8ijGoc2SX0B149hGPXi5nB1JdkttnW1LRbIUpQnrFRfBhjDJ3b4OQirfu0N
lRU8gS07qAH7wt9SpPsBTkPxvxB0m9ZC/BpYOnat/5APLnu2ctTQAJSWVkHmRoUSKqZzLtY6AXm7ws8BIG8KfWODKC6qXB87PErw
PjFQSTesplht996FDM2K8Y3ZdLhYMa0En7aQT/P1glxqw2MaBLWwoi+A
"""
)


def turned(heic: bytes, quarters: int) -> bytes:
    """Say in a HEIC of one image that it is shown so many quarter turns to the left, as a phone held upright writes it.

    ISO/IEC 23008-12: an image rotation property (`irot`) of the item; the EXIF orientation does not count there.
    """
    added = b"\0\0\0\x09irot" + bytes([quarters % 4])
    data = bytearray(heic)

    def grow(name: bytes, by: int) -> int:
        at = data.index(name) - 4
        data[at : at + 4] = (int.from_bytes(data[at : at + 4]) + by).to_bytes(4)
        return at

    def insert(at: int, what: bytes) -> None:
        data[at:at] = what

    for name in (b"meta", b"iprp"):
        grow(name, len(added) + 1)
    holds = grow(b"ipco", len(added))
    size = int.from_bytes(data[holds : holds + 4]) - len(added)
    at, number = holds + 8, 1
    while at < holds + size:
        at, number = at + int.from_bytes(data[at : at + 4]), number + 1
    insert(holds + size, added)
    says = grow(b"ipma", 1)
    # Version and flags, one entry, its item's number, then how many properties: one more, the newest, as essential.
    assert data[says + 8 : says + 12] == b"\0\0\0\0" and int.from_bytes(data[says + 12 : says + 16]) == 1
    count = says + 18
    data[count] += 1
    insert(count + data[count], bytes([0x80 | number]))
    where = data.index(b"iloc") - 4
    # Version nought, offsets of four bytes from a base: number of items, then of the first its number, source and base.
    assert data[where + 8] == 0 and data[where + 12] == 0x44 and data[where + 13] == 0x40
    offset = where + 20
    data[offset : offset + 4] = (int.from_bytes(data[offset : offset + 4]) + len(added) + 1).to_bytes(4)
    return bytes(data)
