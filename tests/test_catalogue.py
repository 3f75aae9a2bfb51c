"""The catalogue as its readers see it."""


def test_a_changed_rating_leaves_the_catalogue_alone(catalogue):
    ratings = catalogue.ratings(["1N4007"])["1N4007"]
    figure = ratings.figure("diodes", "piv_max_v")
    doubled = ratings.with_figure("diodes", figure._replace(value=2 * figure.value))
    assert doubled.figure("diodes", "piv_max_v").value == 2 * figure.value
    assert catalogue.ratings(["1N4007"])["1N4007"].figure("diodes", "piv_max_v").value == figure.value
