"""Binary blocks as instruments send them: ``#``, a length, and so many bytes.

The length is what counts: a newline inside the data is data. Nothing here reads
from anywhere; it says of the bytes that came whether they are all.
"""

from __future__ import annotations

from benchproof.values.errors import ConnectionFailedError


def block_size(start: bytes) -> int | None:
    r"""Return how many bytes a block has, header included, from its first bytes.

    Parameters
    ----------
    start : bytes
        What came so far; it may end anywhere.

    Returns
    -------
    int or None
        None while the header is not complete.

    Raises
    ------
    ConnectionFailedError
        If these bytes do not begin a block whose length is stated.

    Notes
    -----
    The header is ``#``, one digit that says how many digits follow, and these
    digits, the number of data bytes (the definite length block of IEEE 488.2; the
    standard itself was not at hand, the form is that of makers' manuals).

    Examples
    --------
    >>> block_size(b"#3"), block_size(b"#15he\nlo")
    (None, 8)
    """
    if not start:
        return None
    if start[:1] != b"#":
        raise ConnectionFailedError(
            f"the answer begins with {start[:20]!r}, a block begins with b'#'. Have "
            "the instrument leave out the header of its answers, and see that the "
            "query asks for binary data."
        )
    if len(start) < 2:
        return None
    if start[1:2] == b"0":
        raise ConnectionFailedError(
            "the block states no length (b'#0'), so that its end cannot be told from "
            "its data. Set the instrument to blocks of definite length."
        )
    return _stated_size(start)


def _stated_size(start: bytes) -> int | None:
    """Read the digits after ``#``; they may not have come yet."""
    count = start[1:2]
    digits = start[2 : 2 + int(count)] if _is_number(count) else b"x"
    if digits and not _is_number(digits):
        raise ConnectionFailedError(
            f"the length of the block cannot be read in {start[:12]!r}; it is written "
            "like b'#41000' for 1000 bytes. See that the query asks for binary data."
        )
    if len(digits) < int(count):
        return None
    return 2 + len(digits) + int(digits)


def _is_number(digits: bytes) -> bool:
    # int() would take b'1_0' and b' 10'.
    return digits.isdigit()


def block_payload(answer: bytes) -> bytes:
    r"""Return the data of one complete block.

    Parameters
    ----------
    answer : bytes
        The block; line ends behind it are the end of the message.

    Raises
    ------
    ConnectionFailedError
        If it is shorter or longer than its header says, or empty.

    Examples
    --------
    >>> block_payload(b"#15he\nlo\n")
    b'he\nlo'
    >>> block_payload(b"#15hel")
    Traceback (most recent call last):
    ...
    benchproof.values.errors.ConnectionFailedError: the header states 5 bytes, 3 came.
    Nothing was kept; download again.
    """
    size = block_size(answer)
    if size is None:
        raise ConnectionFailedError(
            f"the answer ends inside the header of the block: {answer!r}. Nothing was "
            "kept; download again."
        )
    header = 2 + int(answer[1:2])
    stated, came = size - header, len(answer) - header
    if came < stated:
        raise ConnectionFailedError(
            f"the header states {stated} bytes, {came} came. Nothing was kept; "
            "download again."
        )
    if rest := answer[size:].strip(b"\r\n"):
        raise ConnectionFailedError(
            f"the header states {stated} bytes, and more came: {rest[:20]!r}. The "
            "header is wrong, or the answer is of another query. Nothing was kept; "
            "download again."
        )
    if not stated:
        raise ConnectionFailedError(
            "the block is empty. See that the channel is on and has been triggered."
        )
    return answer[header:size]
