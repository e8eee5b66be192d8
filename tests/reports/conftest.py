import pytest

from support.paper_pictures import LOCALE
from tepal.reports.words import read_catalogue


@pytest.fixture(scope="session")
def catalogues():
    return {
        language: read_catalogue(LOCALE / f"papers.{language}.json") for language in ("en", "es")
    }


@pytest.fixture(scope="session")
def english(catalogues):
    return catalogues["en"]
