"""How hard a text is to read, by published formulas, and a count of syllables for each language.

English: the grade of Kincaid, Fishburne, Rogers and Chissom (1975), "Derivation of new readability formulas", Research
Branch Report 8-75; the age is about the grade and five. Spanish: the perspicuity of Szigriszt Pazos (1993), read on the
INFLESZ scale of Barrio-Cantalejo and others (2008), An. Sist. Sanit. Navar. 31(2): 65 and more is what primary school reads.
Both formulas and the scale are given from memory.
"""

from __future__ import annotations

import re
from itertools import pairwise

WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?|\d+")
END = re.compile(r"(?<=[.!?])[\"”»)]*\s+")
PRIMARY_SCHOOL = 65.0   # INFLESZ: "quite easy" begins here


def sentences_of(text: str) -> list[str]:
    """The sentences of a text."""
    return [one for one in END.split(text.strip()) if WORD.search(one)]


def words_of(text: str) -> list[str]:
    """The words of a text; a number is one."""
    return WORD.findall(text)


def grade(text: str) -> float:
    """The American school grade that reads an English text (Flesch-Kincaid)."""
    words = words_of(text)
    return 0.39 * len(words) / len(sentences_of(text)) + 11.8 * sum(map(english, words)) / len(words) - 15.59


def perspicuity(text: str) -> float:
    """How easy a Spanish text is, 100 the easiest (Szigriszt-Pazos)."""
    words = words_of(text)
    return 206.835 - 62.3 * sum(map(spanish, words)) / len(words) - len(words) / len(sentences_of(text))


APART = r"[^tcsg]i[ao](?!u)|(?<!p)eo(?!u)|(?:ar|id)ea|ua(?!r)|[^q]uie|ying|[aeiou]ing$|iu|creat|real(?!l)"
HISS = r"(?:[szcgx]|ch|sh|[^aeiou]l)$"


def english(word: str) -> int:
    """Syllables of an English word: groups of vowels, without the silent e and with what is heard apart."""
    word = word.lower()
    if word.isdigit():
        return 1 + (int(word) > 12)
    bare = re.sub(r"['’](s|t|re|ve|ll|d|m)$", "", word)
    bare = re.sub(r"(?<=[^aeiouy])(?:e|es|ed)$", _silent, bare)
    bare = re.sub(r"(?<=[^aeiouy])e(?=(?:ly|ful|less|ment|thing|where)$)", "", bare)
    groups = len(re.findall(r"[aeiouy]+", bare))
    return max(1, groups + len(re.findall(APART, bare)))


def _silent(ending: re.Match[str]) -> str:
    """An e at the end that is not heard; it is after a consonant and l, after t or d with -ed, after a hiss with -es."""
    before = ending.string[: ending.start()]
    if ending[0] == "e" and re.search(r"[^aeiouylr]l$", before):
        return "e"
    heard = {"ed": r"[td]$", "es": HISS}.get(ending[0])
    return "e" if heard and re.search(heard, before) else ""


STRONG = "aeoáéóíú"   # an accent on i or u breaks the diphthong


def spanish(word: str) -> int:
    """Syllables of a Spanish word: its vowels, less one for each two that are said as one (RAE, Ortografía 2010, 4.1.1)."""
    word = word.lower()
    if word.isdigit():
        return 2
    bare = re.sub(r"(?<=[qg])u(?=[eiéí])", "", word.replace("h", ""))
    bare = re.sub(r"y$", "i", bare)
    count = len(re.findall(r"[aeiouáéíóúü]", bare))
    joined = sum(
        1 for one, two in pairwise(bare)
        if one in "aeiouáéíóúü" and two in "aeiouáéíóúü" and not (one in STRONG and two in STRONG)
    )
    return max(1, count - joined)
