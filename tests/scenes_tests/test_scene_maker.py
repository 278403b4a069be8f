"""The scene maker's photos: they repeat, and what the truth says is where the picture shows it."""

from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import colour
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageOps

from dyecast_calibration.card_layout import known_layouts
from dyecast_shared.encodings import srgb_decode
from dyecast_shared.geometry import apply_homography
from scenes.card_surface import card_pose
from scenes.piece_surface import piece_pose
from scenes.profiles import profile_bytes
from scenes.render import RenderedPhoto, render, scene_viewpoint, write_photo
from scenes.scenarios import SPOILED_KINDS, random_scene, spoil
from scenes.scene import Card, Piece, Scene

LAYOUT = known_layouts()[0]
SMALL: dict[str, Any] = {"width_px": 800, "height_px": 600}
CLEAN: dict[str, Any] = {"noise": 0.0, "blur_px": 0.4, "sharpening": 0.0}


def plain_scene(**changes: Any) -> Scene:
    """A card and a black piece with a white border on a grey table, 1200 x 900, no noise."""
    black = np.full((60, 60, 3), 20, dtype=np.uint8)
    scene = Scene(Card(LAYOUT), Piece(black, glass=False, border_mm=10.0))
    return scene.changed(**({"width_px": 1200, "height_px": 900} | CLEAN | changes))


def detected_markers(photo: RenderedPhoto) -> dict[int, NDArray[np.float64]]:
    """Marker corners by OpenCV, pixel centres at whole numbers, keyed by id.

    Corners are refined in linear light: lens blur mixes light, so in the encoded picture every dark marker
    looks smaller by a few tenths of a pixel.
    """
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, LAYOUT.marker_dictionary))
    light = (srgb_decode(photo.pixels[..., 1] / 255.0) * 255.0).round().astype(np.uint8)
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(light)
    found = [] if ids is None else np.ravel(ids).tolist()
    return {int(number): np.asarray(places)[0] for number, places in zip(found, corners, strict=True)}


def test_the_same_scene_and_seed_give_the_same_file() -> None:
    scene = random_scene(5, **SMALL)
    assert render(scene, 3).jpeg() == render(random_scene(5, **SMALL), 3).jpeg()
    assert render(scene, 3).jpeg() != render(scene, 4).jpeg()


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"tilt_deg": 25.0, "roll_deg": 40.0},
        {"tilt_deg": 15.0, "roll_deg": -120.0, "radial_distortion": 0.02},
        {"tilt_deg": 20.0, "roll_deg": 10.0, "radial_distortion": -0.02, "bend_mm": 1.0},
    ],
    ids=["straight down", "tilted", "pincushion lens", "barrel lens, bent card"],
)
def test_markers_are_seen_where_the_truth_projects_them(changes: dict[str, float]) -> None:
    scene = plain_scene(piece=None, **changes)
    seen = detected_markers(render(scene))
    viewpoint = scene_viewpoint(scene)
    assert scene.card is not None
    for marker in LAYOUT.markers:
        table = card_pose(scene.card).to_table(np.array(marker.corners()))
        assert np.abs(seen[marker.id] - viewpoint.project(table)).max() < 0.5


def test_card_corners_agree_with_the_plane_through_the_detected_markers() -> None:
    photo = render(plain_scene(piece=None, tilt_deg=20.0, tilt_direction_deg=30.0, roll_deg=15.0))
    seen = detected_markers(photo)
    on_card = np.concatenate([marker.corners() for marker in LAYOUT.markers])
    in_photo = np.concatenate([seen[marker.id] for marker in LAYOUT.markers])
    homography = cv2.findHomography(on_card, in_photo)[0]
    w, h = LAYOUT.width, LAYOUT.height
    corners = apply_homography(homography, np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]))
    assert photo.truth.card_corners is not None
    assert np.abs(corners - photo.truth.card_corners).max() < 0.5


@pytest.mark.parametrize(
    "body", [{}, {"thickness_mm": 4.0}, {"thickness_mm": 6.0, "glass": True}], ids=["thin", "thick", "glass"]
)
def test_the_artwork_fills_exactly_its_true_corners(body: dict[str, Any]) -> None:
    """Area and centre of the darkness a black artwork leaves in the photo, in linear light."""
    scene = plain_scene(card=None, tilt_deg=15.0, roll_deg=20.0, **body)
    photo = render(scene)
    corners = np.asarray(photo.truth.artwork_corners)
    around = cv2.fillPoly(np.zeros((900, 1200), dtype=np.uint8), [corners.round().astype(np.int32)], 1)
    light = srgb_decode(photo.pixels[..., 1] / 255.0)
    ring = np.asarray(cv2.dilate(around, np.ones((21, 21), dtype=np.uint8))) == 1
    white, black = np.median(light[ring & (around == 0)]), np.median(light[around == 1])
    share = np.where(ring, (white - light) / (white - black), 0.0)
    x, y = np.meshgrid(np.arange(1200), np.arange(900))
    centre = [float((share * axis).sum() / share.sum()) for axis in (x, y)]
    moments = cv2.moments(corners.astype(np.float32))
    assert float(share.sum()) == pytest.approx(moments["m00"], rel=0.005)
    assert centre == pytest.approx(
        [moments["m10"] / moments["m00"], moments["m01"] / moments["m00"]], abs=0.2
    )


def test_a_mirrored_artwork_has_its_corners_the_other_way_round() -> None:
    plain, mirrored = (
        render(plain_scene(**SMALL | {"mirrored": m})).truth.artwork_corners for m in (False, True)
    )
    assert plain is not None
    assert mirrored is not None
    assert mirrored == pytest.approx(plain[[1, 0, 3, 2]])


def test_every_drawn_scene_has_card_and_piece_in_the_frame() -> None:
    for seed in range(40):
        scene = random_scene(seed)
        assert scene.card is not None
        assert scene.piece is not None
        viewpoint = scene_viewpoint(scene)
        outlines = np.concatenate([card_pose(scene.card).outline(), piece_pose(scene.piece).outline()])
        pixels = viewpoint.project(outlines)
        assert ((pixels > 0) & (pixels < np.array(viewpoint.size_px) - 1)).all()


def test_markers_are_found_in_nearly_all_drawn_photos() -> None:
    photos = (render(random_scene(seed, width_px=1000, height_px=750)) for seed in range(8))
    assert sum(len(detected_markers(photo)) == len(LAYOUT.markers) for photo in photos) >= 7


def test_a_thick_piece_lifts_its_artwork_and_shows_its_side_faces() -> None:
    thin, thick = (render(plain_scene(**SMALL | {"tilt_deg": 25.0, "thickness_mm": t})) for t in (0.0, 6.0))
    lifted = np.asarray(thick.truth.artwork_corners) - np.asarray(thin.truth.artwork_corners)
    assert float(np.linalg.norm(lifted, axis=1).min()) > 2.0
    assert not np.array_equal(thin.pixels, thick.pixels)


def test_mirrored_light_adds_to_the_photo_but_not_to_the_reference() -> None:
    plain, veiled = (render(plain_scene(**SMALL | {"glass": True, "veil": v})) for v in (0.0, 0.05))
    assert plain.truth.reference_lab is not None
    assert veiled.truth.reference_lab is not None
    assert veiled.truth.glare_share is not None
    x, y = np.round(np.mean(np.asarray(plain.truth.artwork_corners), axis=0)).astype(int)
    assert (veiled.pixels[y, x] > plain.pixels[y, x].astype(int) + 10).all()
    assert np.array_equal(plain.truth.reference_lab, veiled.truth.reference_lab)
    assert veiled.truth.glare_share == pytest.approx(0.05)


def test_white_is_grey_under_every_lamp_when_the_balance_is_right() -> None:
    for lamp in ("A", "FL11", "LED-B1"):
        photo = render(plain_scene(**SMALL | {"illuminant": lamp}))
        corners = np.asarray(photo.truth.card_corners)
        x, y = np.round(corners[0] + (corners[2] - corners[0]) * [0.08, 0.5]).astype(int)
        assert int(np.ptp(photo.pixels[y, x])) <= 2


def test_the_p3_profile_is_what_littlecms_takes_for_display_p3() -> None:
    """P3 red, D50-adapted, as colour-science computes it from the primaries."""
    profile = ImageCms.ImageCmsProfile(BytesIO(profile_bytes("Display P3")))
    assert ImageCms.getProfileDescription(profile).strip() == "Display P3"
    to_lab = ImageCms.buildTransform(
        profile, ImageCms.createProfile("LAB", 5000), "RGB", "LAB", ImageCms.Intent.RELATIVE_COLORIMETRIC
    )
    lab = ImageCms.applyTransform(Image.new("RGB", (1, 1), (255, 0, 0)), to_lab)
    assert lab is not None
    lightness, a, b = np.asarray(lab)[0, 0]
    seen = [lightness / 2.55, float(a.astype(np.int8)), float(b.astype(np.int8))]
    p3 = colour.RGB_COLOURSPACES["Display P3"]
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    adapted = colour.adaptation.chromatic_adaptation(
        p3.matrix_RGB_to_XYZ @ [1.0, 0.0, 0.0],
        colour.xy_to_XYZ(p3.whitepoint),
        colour.xy_to_XYZ(white),
        method="Von Kries",
        transform="Bradford",
    )
    assert seen == pytest.approx(colour.XYZ_to_Lab(adapted, white).tolist(), abs=1.0)


def test_both_profiles_show_the_same_colours(tmp_path: Path) -> None:
    labs = []
    for profile in ("sRGB", "Display P3"):
        photo = render(plain_scene(**SMALL | {"colour_profile": profile, "jpeg_quality": 98}))
        write_photo(tmp_path / "photo.jpg", photo)
        with Image.open(tmp_path / "photo.jpg") as stored:
            embedded = ImageCms.ImageCmsProfile(BytesIO(stored.info["icc_profile"]))
            shown = ImageCms.profileToProfile(stored, embedded, ImageCms.createProfile("sRGB"))
        assert shown is not None
        labs.append(np.asarray(shown, dtype=np.float64))
    assert float(np.abs(labs[0] - labs[1]).mean()) < 1.0


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_exif_orientation_is_turned_upright_again(orientation: int) -> None:
    photo = render(plain_scene(width_px=320, height_px=240, exif_orientation=orientation, jpeg_quality=95))
    with Image.open(BytesIO(photo.jpeg())) as stored:
        assert stored.size == ((240, 320) if orientation >= 5 else (320, 240))
        upright = np.asarray(ImageOps.exif_transpose(stored), dtype=np.float64)
    assert float(np.abs(upright - photo.pixels).mean()) < 3.0


def test_a_scene_changes_any_field_by_name_and_refuses_unknown_ones() -> None:
    scene = random_scene(1)
    changed = scene.changed(tilt_deg=12.0, veil=0.01, illuminant="FL2")
    assert changed.camera.tilt_deg == 12.0
    assert changed.light == replace(scene.light, illuminant="FL2")
    with pytest.raises(TypeError, match="tilt_degrees"):
        scene.changed(tilt_degrees=3.0)


def test_spoiled_scenes_have_the_fault_they_are_named_after() -> None:
    photos = {kind: render(spoil(plain_scene(**SMALL), kind)) for kind in SPOILED_KINDS}
    size = np.array([800, 600]) - 1
    cut_card, cut_piece = photos["card_cut"].truth.card_corners, photos["piece_cut"].truth.artwork_corners
    glare = photos["glare_over_piece"].truth.glare_share
    assert photos["no_card"].truth.card_corners is None
    assert photos["no_piece"].truth.artwork_corners is None
    assert cut_card is not None
    assert ((cut_card < 0) | (cut_card > size)).any()
    assert cut_piece is not None
    assert ((cut_piece < 0) | (cut_piece > size)).any()
    assert glare is not None
    assert float((glare > 0.3).mean()) > 0.4
    assert float((photos["overexposed"].pixels == 255).all(axis=2).mean()) > 0.05
    assert float(photos["underexposed"].pixels.mean()) < 30.0


def test_a_blurred_photo_holds_less_detail_and_two_cards_show_every_marker_twice() -> None:
    sharp, doubled = render(plain_scene()), render(spoil(plain_scene(), "two_cards"))
    blurred = render(spoil(plain_scene(), "blurred"))
    assert (
        cv2.Laplacian(blurred.pixels, cv2.CV_64F).var() < 0.05 * cv2.Laplacian(sharp.pixels, cv2.CV_64F).var()
    )
    grey = cv2.cvtColor(doubled.pixels, cv2.COLOR_RGB2GRAY)
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, LAYOUT.marker_dictionary))
    _, ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)
    assert sorted(np.ravel(np.asarray(ids)).tolist()) == sorted([marker.id for marker in LAYOUT.markers] * 2)


def test_a_hidden_marker_is_the_only_one_missing() -> None:
    seen = detected_markers(render(plain_scene(hidden_corner="top_right")))
    hidden = {marker.id for marker in LAYOUT.markers if marker.corner == "top_right"}
    assert set(seen) == LAYOUT.marker_ids() - hidden
