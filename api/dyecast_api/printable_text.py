"""Text that any terminal, page or document can hold."""


def printable(text: str) -> str:
    """Return text as one line without anything a terminal would obey or UTF-8 cannot hold.

    File names may carry control characters and half characters; each is shown as a question mark. Every kind
    of white space becomes a plain space.
    """
    whole = text.encode("utf-8", "replace").decode("utf-8")
    return "".join(map(_printable_character, whole))


def _printable_character(character: str) -> str:
    if character.isprintable():
        return character
    return " " if character.isspace() else "?"
