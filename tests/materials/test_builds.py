"""Panel builds: shipped ones, one's own, and those that are refused."""

import numpy as np
import pytest

from treatment.air import Air
from treatment.errors import MaterialError
from treatment.materials.build import Layer
from treatment.materials.builds import choose_builds, load_builds, make_build, parse_layers, read_builds
from treatment.materials.carcass import frame_mass
from treatment.materials.facing import Facing
from treatment.materials.library import load_library
from treatment.materials.material import Material
from treatment.materials.porous import octave_absorption

LIBRARY = load_library()
BUILDS = {b.id: b for b in load_builds(LIBRARY)}
HEADER = "id,description,width_mm,height_mm,thickness_mm,air_gap_mm,material,layers,on,price,price_note"
GOOD = "own,Own,600,1200,100,0,,12500 x 100 mm @ 48,wall;ceiling,20,typed today"


def test_at_least_ten_builds_of_every_use():
    assert len(BUILDS) >= 10
    assert {place for b in BUILDS.values() for place in b.on} == {
        "wall",
        "ceiling",
        "corner",
        "free-standing",
    }
    assert {"wool-100", "wool-50-gap-50"} <= set(BUILDS)
    assert {b.basis for b in BUILDS.values()} == {"measured", "predicted"}


@pytest.mark.parametrize("build", BUILDS.values(), ids=BUILDS)
def test_shipped_build(build):
    assert isinstance(build.material, Material)
    assert build.material.absorption.shape == (8,)
    assert np.all(np.isfinite(build.material.absorption))
    assert build.mass > 0
    assert build.price > 0
    assert build.price_note == "invented example"
    assert build.depth == pytest.approx(build.thickness + build.air_gap)
    if build.basis == "predicted":
        assert build.layers
        assert not build.material.assumed.any()
        assert np.all((build.material.absorption > 0) & (build.material.absorption < 1))
        sheet = build.sheet.thickness if build.sheet else 0.0
        assert sum(x.thickness for x in build.layers) + sheet == pytest.approx(build.thickness)
        assert "Miki" in build.material.provenance.source
    else:
        assert not build.layers
        assert build.material is LIBRARY.get(build.material.id)
        assert not build.outside_model.any()


def test_thin_felt_is_worth_little_below_1_khz():
    # Common practice: a porous layer works from about a tenth of a wavelength, 1.4 kHz for 25 mm, so
    # thickness decides the low bands.
    thin, thick = BUILDS["felt-25"].material.absorption, BUILDS["wool-100"].material.absorption
    assert np.all(thin[:4] < 0.5 * thick[:4])
    assert thin[6] > 0.85


def test_predicted_build_is_the_octave_mean_in_the_given_air():
    cold, warm = Air(temperature_c=5.0), Air(temperature_c=30.0)
    layers = [Layer(12_500, 0.05)]
    made = [
        make_build("p", library=LIBRARY, width=0.6, height=1.2, thickness=0.05, layers=layers, air=air)
        for air in (cold, warm)
    ]
    for build, air in zip(made, (cold, warm), strict=True):
        np.testing.assert_allclose(build.material.absorption, octave_absorption(layers, 0.0, air), rtol=1e-12)
    assert made[0].material.absorption[2] > made[1].material.absorption[2]
    assert made[0].outside_model.tolist() == [True] + [False] * 7


def test_mass_of_core_and_frame():
    # Separate hand calculation: 1.2 x 0.6 x 0.10 m at 48 kg/m3 is 3.456 kg. Frame boards 18 mm round the
    # slab, 500 kg/m3: (0.636 * 1.236 - 0.72) * 0.1 * 500 = 3.305 kg.
    build = make_build(
        "p", library=LIBRARY, width=0.6, height=1.2, thickness=0.1, layers=[Layer(12_500, 0.1, 48.0)]
    )
    assert build.mass == pytest.approx(3.456, rel=1e-6)
    assert frame_mass(0.6, 1.2, 0.1, 0.018) == pytest.approx(3.3048, rel=1e-6)
    assert BUILDS["wool-100"].mass == pytest.approx(6.761, rel=1e-3)
    assert (BUILDS["wool-100"].outer_width, BUILDS["wool-100"].outer_height) == pytest.approx((0.636, 1.236))


def test_mass_is_not_guessed_where_a_density_is_missing():
    layers = [Layer(12_500, 0.05, 48.0), Layer(12_500, 0.05)]
    assert make_build("p", library=LIBRARY, width=0.6, height=1.2, thickness=0.1, layers=layers).mass == 0.0


def test_measured_build_takes_the_row_as_published():
    build = make_build(
        "p", library=LIBRARY, width=0.6, height=1.2, thickness=0.05, material="mineral-wool-50mm-48kg-enc"
    )
    assert build.basis == "measured"
    assert build.material.absorption[3] == 1.0
    assert build.mass == pytest.approx(0.6 * 1.2 * 0.05 * 48)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"width": -0.6}, "width: -0.6 m is outside"),
        ({"height": 120.0}, "height: 120 m is outside"),
        ({"price": float("nan")}, "price: nan"),
        ({"thickness": 0.2}, "thickness: 200 mm, but the layers add up to 100 mm"),
        ({"layers": [Layer(12.5, 0.1)]}, "12.5 is outside .*12.5 kPa"),
        ({"layers": [Layer(12_500, 0.1, -1.0)]}, "density: -1"),
        ({"layers": [Layer(12_500, 0.0)], "thickness": 0.001}, "thickness: 0 m is not more"),
        ({"layers": ()}, "either layers or material"),
        ({"material": "steel"}, "not both"),
        ({"layers": (), "material": "mineral-wol-50mm"}, "no material 'mineral-wol-50mm'.*mineral-wool-50mm"),
        ({"layers": (), "material": "person-seated"}, "area of one object"),
        ({"layers": (), "material": "mineral-wool-50mm-48kg-enc"}, "100 mm, but .* measured with 50 mm"),
        (
            {"layers": (), "material": "mineral-wool-50mm-70kg-gap300", "thickness": 0.05},
            "air_gap: 0 mm, but .* 300 mm",
        ),
        ({"on": ()}, "no place"),
        ({"on": ["floor"]}, "unknown place 'floor'"),
    ],
)
def test_refused_build(changes, words):
    arguments = {"width": 0.6, "height": 1.2, "thickness": 0.1, "layers": [Layer(12_500, 0.1)]} | changes
    with pytest.raises(MaterialError) as caught:
        make_build("own", library=LIBRARY, where="builds.own", **arguments)
    assert caught.value.where == "builds.own"
    caught.match("(?s)" + words)


def test_all_problems_of_a_build_in_one_message():
    with pytest.raises(MaterialError) as caught:
        make_build("own", library=LIBRARY, width=-1, height=99, thickness=0.1, on=["moon"])
    for words in ("width", "height", "moon", "either layers or material"):
        assert words in str(caught.value)


def test_layers_as_text():
    assert parse_layers("") == ()
    assert parse_layers("12500 x 100 mm @ 48") == (Layer(12_500, 0.1, 48.0),)
    assert parse_layers("8000 x 50 mm + 16000x50mm@60") == (Layer(8000, 0.05), Layer(16_000, 0.05, 60.0))
    for bad in ("12500", "12500 x 100", "12500 x 100 mm @", "x", "1 x 1 mm +"):
        with pytest.raises(ValueError):
            parse_layers(bad)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (GOOD.replace("600", "-6"), "line 2, column width_mm: -6"),
        (GOOD.replace("600", ""), "column width_mm: blank"),
        (GOOD.replace("12500 x", "12500 *"), "column layers: cannot read"),
        (GOOD.replace("12500", "1.2.3"), "column layers: cannot read"),
        (GOOD.replace(",100,", ",50,"), "line 2: thickness: 50 mm"),
        (GOOD.replace("wall;", "roof;"), "unknown place 'roof'"),
        (GOOD.replace("typed today", ""), "column price_note: blank"),
        (GOOD + "\n" + GOOD, "line 3, column id: 'own' stands there twice"),
    ],
)
def test_refused_row_of_builds(tmp_path, row, words):
    path = tmp_path / "builds.csv"
    path.write_text(f"{HEADER}\n{row}\n")
    with pytest.raises(MaterialError) as caught:
        read_builds(path, LIBRARY)
    assert caught.value.where == str(path)
    caught.match(words)


def test_choice_of_builds():
    chosen = choose_builds(tuple(BUILDS.values()), ["wool-100", "felt-25", "wool-100"])
    assert [b.id for b in chosen] == ["wool-100", "felt-25"]
    with pytest.raises(MaterialError, match="no build 'wool-10'") as caught:
        choose_builds(tuple(BUILDS.values()), ["wool-50", "wool-10"])
    assert caught.value.where == "panels[1]"
    assert "wool-100" in caught.value.hint


def test_kind_of_material_in_a_layer():
    # Hopkins 2007, eq. (1.165), second hand: stone wool of 48 kg/m3 has 8600 to 16 300 Pa s/m2.
    (layer,) = parse_layers("stone wool x 100 mm @ 48")
    assert layer.kind == "stone wool"
    assert layer.airflow_resistivity == pytest.approx(np.sqrt(8600 * 16_300), rel=0.01)
    assert parse_layers("glass wool 8000 x 50 mm @ 24") == (Layer(8000, 0.05, 24.0, "glass wool"),)
    for bad in ("stone wool x 100 mm", "straw x 100 mm @ 48", "stone wool x 100 mm @ 0"):
        with pytest.raises(ValueError):
            parse_layers(bad)


def test_cover_is_no_matter_of_a_measured_row():
    with pytest.raises(MaterialError, match="holds its own cover"):
        make_build(
            "x", library=LIBRARY, width=0.6, height=1.2, thickness=0.05,
            material="mineral-wool-50mm-48kg-enc", front=Facing(resistance=20.0),
        )  # fmt: skip


def test_predicted_build_carries_its_doubt():
    for build in BUILDS.values():
        assert build.material.uncertainty.shape == (8,)
        if build.basis == "predicted":
            assert build.layers[0].kind
    # Airflow resistivity of felt is known least.
    assert BUILDS["felt-25"].material.uncertainty[4] > BUILDS["wool-50"].material.uncertainty[4]
