"""Every error dyecast raises on purpose.

DyecastError
├── BadInput                  a file or an option that cannot be used
│   ├── FileUnreadable        file-unreadable
│   ├── NotAPicture           not-a-picture
│   ├── PictureDamaged        picture-damaged
│   ├── PictureTooLarge       picture-too-large
│   ├── PictureTooSmall       picture-too-small
│   ├── ProfileUnusable       profile-unusable
│   ├── CardFileInvalid       card-file-invalid
│   ├── MeasurementsInvalid   measurements-invalid
│   ├── ShopFileInvalid       shop-file-invalid
│   ├── ShopFileNewer         shop-file-newer
│   ├── ShopLabelsContradict  shop-labels-contradict
│   ├── ShopProfileEmpty      shop-profile-empty
│   ├── BatchInvalid          batch-invalid
│   ├── BatchChanged          batch-changed
│   ├── KeyUsedTwice          key-used-twice
│   ├── BackupInvalid         backup-invalid
│   ├── PressEntryUnclear     press-entry-unclear
│   ├── PressLogInvalid       press-log-invalid
│   ├── PressAgainRefused     press-again-refused
│   └── PlanNotPossible       plan-not-possible
├── Retake                    the photo is fine as a file, but nothing can be judged from it
│   ├── CardNotFound          card-not-found
│   ├── CardClipped           card-clipped
│   ├── CardBent              card-bent
│   ├── CardTooSmall          card-too-small
│   ├── TwoCards              two-cards
│   ├── PhotoBlurred          photo-blurred
│   ├── PhotoOverexposed      photo-overexposed
│   ├── PhotoUnderexposed     photo-underexposed
│   ├── ColourUncertain       colour-uncertain
│   ├── PieceNotFound         piece-not-found
│   ├── PieceClipped          piece-clipped
│   ├── PieceHidden           piece-hidden
│   ├── HeatUnclear           heat-unclear
│   ├── PeekTooSmall          peek-too-small
│   └── PeekTooPale           peek-too-pale
├── StoreTrouble              the shop's database or its pictures
│   ├── StoreUnavailable      store-unavailable
│   ├── StoreInvalid          store-invalid
│   ├── DataInUse             data-in-use
│   └── FileMissing           file-missing
├── Refused                   a request that the shop's server does not carry out
│   ├── RequestInvalid        request-invalid
│   ├── SignInNeeded          sign-in-needed
│   ├── PassphraseWrong       passphrase-wrong
│   ├── PairingUnusable       pairing-unusable
│   ├── OwnerNeeded           owner-needed
│   ├── ForeignOrigin         foreign-origin
│   ├── NotFound              not-found
│   ├── MethodNotAllowed      method-not-allowed
│   ├── NameTaken             name-taken
│   ├── NotFinished           not-finished
│   ├── UploadTooLarge        upload-too-large
│   ├── UploadTooSlow         upload-too-slow
│   └── TooManyRequests       too-many-requests
├── ServerFault               server-fault
├── ServerUnreachable         server-unreachable
├── InspectionFailed          inspection-failed
└── OutputFailed              output-failed

Each leaf carries a stable `code`: the JSON document, the HTTP problem and the docs use the same word. What
only a server and those who ask it raise (`Refused` and below, `ServerFault`, `ServerUnreachable`) stands in
`request_errors`.
"""

from typing import ClassVar


class DyecastError(Exception):
    """Something went wrong that the user can do something about.

    Parameters
    ----------
    message
        What happened, in one plain sentence.
    advice
        What to do about it, in one plain sentence; empty when the class default fits.
    file
        Name of the file it happened to, or empty.
    field
        What the advice is about, in one word: a field of the entry that is missing or to be changed, as the
        HTTP interface names it, or a thing to be made or looked at first; empty when there is no single one.
        The command line names its own option or command for it (`command_words`).
    """

    code: ClassVar[str] = "error"
    default_advice: ClassVar[str] = ""

    def __init__(self, message: str, *, advice: str = "", file: str = "", field: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.advice = advice or self.default_advice
        self.file = file
        self.field = field

    def __str__(self) -> str:
        named = f"{self.file}: {self.message}" if self.file else self.message
        return f"{named} {self.advice}".strip()


class BadInput(DyecastError):
    """A file or an option that cannot be used."""

    code = "bad-input"


class FileUnreadable(BadInput):
    """The file is missing, empty, a folder, or may not be read."""

    code = "file-unreadable"
    default_advice = "Check the name and that the file may be read."


class NotAPicture(BadInput):
    """The bytes are no picture format dyecast reads."""

    code = "not-a-picture"
    default_advice = "Use a JPEG, PNG, TIFF, WebP or HEIC file."


class PictureDamaged(BadInput):
    """The picture starts well and then breaks off or contradicts itself."""

    code = "picture-damaged"
    default_advice = "Copy the file again from the phone, or take the photo again."


class PictureTooLarge(BadInput):
    """More bytes, pixels or memory than the bounds allow."""

    code = "picture-too-large"
    default_advice = "Use the photo as the phone wrote it, not an enlargement."


class PictureTooSmall(BadInput):
    """Too few pixels to hold anything that could be measured."""

    code = "picture-too-small"
    default_advice = "Use the original photo, not a thumbnail."


class ProfileUnusable(BadInput):
    """An ICC profile that is damaged or of a kind that cannot be used here."""

    code = "profile-unusable"
    default_advice = "Use an RGB or CMYK output profile made for the printer, ink and paper."


class CardFileInvalid(BadInput):
    """A card layout or card values file that contradicts itself or the card."""

    code = "card-file-invalid"
    default_advice = "Write the file again with dyecast, or use a card layout that ships with it."


class MeasurementsInvalid(BadInput):
    """A spectrophotometer's file that cannot give the card its values."""

    code = "measurements-invalid"
    default_advice = "Export the measurements as CGATS text with D50, 2 degree Lab or XYZ for every patch."


class ShopFileInvalid(BadInput):
    """A shop profile that is damaged, or a file that is none."""

    code = "shop-file-invalid"
    default_advice = "Take your last export, or start a new profile with another file name."


class ShopFileNewer(BadInput):
    """A shop profile that a newer version of dyecast wrote."""

    code = "shop-file-newer"
    default_advice = "Install the newer dyecast on this computer too; the file was left as it is."


class ShopLabelsContradict(BadInput):
    """A label that contradicts one given before to a piece that measures the same."""

    code = "shop-labels-contradict"
    default_advice = "Look at both pieces again; undo the label that was wrong, and add the right one."


class ShopProfileEmpty(BadInput):
    """A shop profile without the piece that is asked for."""

    code = "shop-profile-empty"
    default_advice = "See what the profile holds with 'dyecast calibrate list'."


class BatchInvalid(BadInput):
    """Figures of a batch that contradict each other or are too few to judge it."""

    code = "batch-invalid"
    default_advice = "Correct the figures of this batch and try again."


class BatchChanged(BadInput):
    """A batch that somebody else changed meanwhile, or that is closed."""

    code = "batch-changed"
    default_advice = "Look at the batch as it is now, then decide again."


class KeyUsedTwice(BadInput):
    """An idempotency key that was sent before with another photo."""

    code = "key-used-twice"
    default_advice = "Send every photo with a key of its own; repeat a key only to send the same photo again."


class BackupInvalid(BadInput):
    """A backup that is damaged, or a file that is none."""

    code = "backup-invalid"
    default_advice = "Use another backup; nothing was changed."


class PressEntryUnclear(BadInput):
    """A temperature, time or pressure that can be read in two ways or that no press works at."""

    code = "press-entry-unclear"
    default_advice = "Write the number with its unit, such as 365F, 185C, 90s or 6min."


class PressLogInvalid(BadInput):
    """An entry of the press log that contradicts itself, or that is not there."""

    code = "press-log-invalid"
    default_advice = "Correct the entry and try again; nothing was written."


class PressAgainRefused(BadInput):
    """A piece that cannot be pressed again."""

    code = "press-again-refused"
    default_advice = "Press a new blank longer instead; its plan says for how long."


class PlanNotPossible(BadInput):
    """A blank whose next pressing cannot be planned from what is known."""

    code = "plan-not-possible"
    default_advice = "Add what its supplier recommends and try again."


class Retake(DyecastError):
    """The photo can be opened but not judged; a better photo can."""

    code = "retake"


class CardNotFound(Retake):
    """No marker of any known card was seen."""

    code = "card-not-found"
    default_advice = "Lay the whole reference card beside the piece and take the photo again."


class CardClipped(Retake):
    """Part of the card lies outside the frame."""

    code = "card-clipped"
    default_advice = "Step back until the whole card and the whole piece are in the frame."


class CardBent(Retake):
    """The markers do not lie in one plane."""

    code = "card-bent"
    default_advice = "Lay the card flat, or tape it to a stiff board, and take the photo again."


class CardTooSmall(Retake):
    """Too few pixels on a patch to measure it."""

    code = "card-too-small"
    default_advice = "Go closer, so that card and piece fill the frame."


class TwoCards(Retake):
    """More than one card in the photo."""

    code = "two-cards"
    default_advice = "Leave one card beside the piece and take the photo again."


class PhotoBlurred(Retake):
    """Out of focus or moved."""

    code = "photo-blurred"
    default_advice = "Hold the phone still, tap on the piece to focus, and take the photo again."


class PhotoOverexposed(Retake):
    """Too many patches are clipped at white."""

    code = "photo-overexposed"
    default_advice = "Lower the exposure (tap the card and drag down) or move away from the lamp."


class PhotoUnderexposed(Retake):
    """Too dark to measure above the noise."""

    code = "photo-underexposed"
    default_advice = "Add light, or raise the exposure, and take the photo again."


class ColourUncertain(Retake):
    """The card's patches contradict each other too much to trust a correction."""

    code = "colour-uncertain"
    default_advice = (
        "Use one kind of light, keep shadows and coloured things away from the card, wipe the card."
    )


class PieceNotFound(Retake):
    """Nothing beside the card looks like the artwork."""

    code = "piece-not-found"
    default_advice = (
        "Lay the piece beside the card, check that the artwork file is the right one, and try again."
    )


class PieceClipped(Retake):
    """Part of the piece lies outside the frame."""

    code = "piece-clipped"
    default_advice = "Step back until the whole card and the whole piece are in the frame."


class PieceHidden(Retake):
    """Glare or an object hides too much of the piece."""

    code = "piece-hidden"
    default_advice = (
        "Move the lamp or turn the piece so that it mirrors something dark; "
        "holding a dark card above it, where the glass would mirror the ceiling, helps."
    )


class HeatUnclear(Retake):
    """The photo does not tell whether ink never came or was lost to too much heat."""

    code = "heat-unclear"
    default_advice = (
        "Take another photo in other light, best beside a window by day, and do not press the piece again "
        "before you know."
    )


class PeekTooSmall(Retake):
    """Too little of the picture shows under the lifted corner."""

    code = "peek-too-small"
    default_advice = "Lift the corner further, hold the flap aside, and take the photo again."


class PeekTooPale(Retake):
    """The part that shows has hardly any ink."""

    code = "peek-too-pale"
    default_advice = "Lift a corner under which the artwork has strong and light colours side by side."


class StoreTrouble(DyecastError):
    """The shop's database or its folder of pictures cannot be used."""

    code = "store-trouble"


class StoreUnavailable(StoreTrouble):
    """The database cannot be reached, is locked, or cannot be written."""

    code = "store-unavailable"
    default_advice = "Check that the disk is not full and that the folder may be written, then try again."


class StoreInvalid(StoreTrouble):
    """The database is none of dyecast, is damaged, or a newer version wrote it."""

    code = "store-invalid"
    default_advice = "Name another data folder, or restore the last backup."


class DataInUse(StoreTrouble):
    """The data folder is used by a server or worker, or is being replaced."""

    code = "data-in-use"
    default_advice = "Stop the server and all workers on this data folder, then try again."


class FileMissing(StoreTrouble):
    """A picture or profile that the database names is not in the store, or is damaged there."""

    code = "file-missing"
    default_advice = "Send it again, or restore the last backup."


class InspectionFailed(DyecastError):
    """An inspection ended without an answer, through no fault that is known of the photo."""

    code = "inspection-failed"
    default_advice = "Send another photo of the piece; if that fails too, report it with the log."


class OutputFailed(DyecastError):
    """A result could not be written; nothing half-written is left behind."""

    code = "output-failed"
    default_advice = "Check that the folder may be written to and that the disk is not full."
