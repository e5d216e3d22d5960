# SPDX-License-Identifier: MIT
"""The entry list: invented cars of invented makes and the people in them."""

from dice import Dice

# How many cars of each year come; 172 in all.
YEARS = {
    1908: 1, 1909: 1, 1910: 1, 1911: 2, 1912: 2, 1913: 2, 1914: 3, 1916: 1, 1918: 1,
    1920: 2, 1921: 2, 1922: 3, 1923: 3, 1924: 4, 1925: 4, 1926: 4, 1927: 5, 1928: 5, 1929: 5, 1930: 3,
    1931: 4, 1932: 4, 1933: 4, 1934: 5, 1935: 4, 1936: 4, 1937: 3, 1938: 3, 1939: 3,
    1947: 1, 1948: 1, 1949: 2, 1950: 3, 1951: 2, 1952: 3, 1953: 3, 1954: 3, 1955: 4, 1956: 3, 1957: 3,
    1958: 3, 1959: 3, 1960: 3, 1961: 3, 1962: 3, 1963: 3, 1964: 3, 1965: 4, 1966: 4, 1967: 3,
    1968: 3, 1969: 3, 1970: 3, 1971: 4, 1972: 4, 1973: 3, 1974: 4,
}

# make, model, first year, last year, capacity in cc, supercharged
MODELS = [
    ("Garrodine", "Forty Chain-Drive", 1908, 1912, 7433, 0), ("Averne", "Type B Runabout", 1908, 1914, 1462, 0),
    ("Thornbeck", "Twenty Landaulet", 1908, 1914, 3990, 0), ("Morvessin", "Biplace Course", 1910, 1914, 2120, 0),
    ("Dornreiter", "Herzogswagen", 1910, 1914, 5706, 0), ("Pellworth", "Twelve Torpedo", 1911, 1918, 2412, 0),
    ("Corvane", "Voiturette", 1909, 1914, 1244, 0), ("Old Colony", "Thirty-Five Tourer", 1911, 1918, 4910, 0),
    ("Okenden", "Prairie Two-Seater", 1914, 1918, 5202, 0),
    ("Calder", "Four", 1920, 1925, 1496, 0), ("Calder", "Six", 1926, 1932, 2262, 0),
    ("Calder", "Six Sports Tourer", 1933, 1938, 2511, 0), ("Pellworth", "Three Litre", 1921, 1927, 2984, 0),
    ("Pellworth", "Long Four", 1928, 1931, 4412, 0), ("Pellworth", "Long Four Blown", 1929, 1931, 4412, 1),
    ("Averne", "Petit Sport", 1924, 1930, 1097, 0), ("Ravanel", "Type R Bois", 1923, 1928, 1493, 0),
    ("Ravanel", "Type RC Compresseur", 1926, 1931, 1982, 1), ("Castrelli", "Sesta Minore", 1927, 1934, 1487, 1),
    ("Castrelli", "Ottava Spider", 1931, 1938, 2366, 1), ("Bellucato", "Siluro Piccolo", 1923, 1929, 985, 0),
    ("Falkenrath", "Kompressorwagen", 1927, 1932, 6812, 1), ("Dornreiter", "Reisewagen 15", 1922, 1928, 4080, 0),
    ("Thornbeck", "Light Fourteen", 1922, 1929, 1954, 0), ("Thornbeck", "Silver Hind", 1925, 1935, 6427, 0),
    ("Hexley", "Gnat Blown", 1928, 1931, 752, 1), ("Hexley", "Gnat", 1923, 1930, 752, 0),
    ("Wolvercote", "Linnet", 1924, 1930, 1490, 0), ("Okenden", "Prairie Six", 1925, 1931, 4684, 0),
    ("Packenham", "Ambassadress Eight", 1927, 1935, 5243, 0), ("Ibarrola", "Gran Turismo Largo", 1920, 1930, 3746, 0),
    ("Lindqvar", "Modell Öppen", 1927, 1931, 1936, 0),
    ("Hexley", "Hornet-Moth Special", 1932, 1937, 1094, 0), ("Strathmour", "Glen Six", 1932, 1936, 2762, 0),
    ("Strathmour", "Glen Drophead", 1936, 1939, 4367, 0), ("Wexcombe", "Magpie Blown", 1933, 1936, 1091, 1),
    ("Wexcombe", "Magpie Two", 1936, 1939, 1262, 0), ("Marchbanks-Lyle", "Fourteen", 1931, 1936, 1767, 0),
    ("Marchbanks-Lyle", "\"Doctor's\" Coupé, short chassis", 1933, 1938, 1498, 0),
    ("Quillfeld", "Leichtmetall Sport", 1936, 1939, 1966, 0), ("Quillfeld", "Zwerg 1,2", 1931, 1936, 1173, 0),
    ("Delacroy", "Grand Col", 1935, 1939, 3547, 0), ("Velletra", "Lucciola", 1936, 1939, 1362, 0),
    ("Brocklow-Day", "Harrier", 1931, 1935, 4458, 0), ("Vltavan", "Kometa K", 1934, 1938, 3241, 1),
    ("Packenham", "Ambassadress Club Sedan", 1936, 1939, 5801, 0), ("Lindqvar", "Norrsken", 1935, 1938, 3655, 0),
    ("Strathmour", "Glen Roadster", 1949, 1955, 3422, 0), ("Wexcombe", "Magpie Three", 1949, 1955, 1262, 0),
    ("Wexcombe", "Jackdaw", 1956, 1962, 1582, 0), ("Calder", "Four Hundred", 1953, 1956, 2648, 0),
    ("Calder", "Six Mark Five", 1959, 1967, 2924, 0), ("Velletra", "Civetta GT", 1951, 1958, 2446, 0),
    ("Castrelli", "Rondine Veloce", 1954, 1962, 1285, 0), ("Bellucato", "Berlinetta Otto", 1952, 1955, 1988, 0),
    ("Quillfeld", "Modell 15 Coupé", 1951, 1963, 1493, 0), ("Falkenrath", "Typ M Limousine", 1953, 1960, 1887, 0),
    ("Falkenrath", "Typ L Coupé", 1954, 1957, 2988, 0), ("Lindqvar", "Kaskad", 1957, 1965, 1578, 0),
    ("Sorbye", "Totakt", 1956, 1960, 742, 0), ("Delacroy", "Petit Col Course", 1948, 1957, 738, 0),
    ("Okenden", "Meteorite V8", 1949, 1956, 5414, 0), ("Hexley", "Wasp", 1958, 1961, 952, 0),
    ("Pellworth", "Long Four Special", 1947, 1953, 4257, 0), ("Penhallick", "Merrow Replica", 1949, 1953, 1966, 0),
    ("Hexley", "Wasp Saloon S", 1963, 1970, 1269, 0), ("Lindqvar", "Forsån", 1962, 1969, 1774, 0),
    ("Castrelli", "Rondine Coda Tronca", 1967, 1972, 1772, 0), ("Quillfeld", "Modell 20 R", 1965, 1973, 1984, 0),
    ("Velletra", "Civetta Corsa", 1965, 1973, 1294, 0), ("Strathmour", "Glen Fastback", 1961, 1970, 4198, 0),
    ("Falkenrath", "Typ P Cabriolet", 1963, 1970, 2302, 0), ("Okenden", "Bronco-Line Eight", 1964, 1969, 4712, 0),
    ("Calder", "Four Twenty", 1961, 1967, 2134, 0), ("Delacroy", "Col d'Hiver", 1963, 1973, 1291, 0),
    ("Sorbye", "Firetakt", 1967, 1974, 1488, 0), ("Wexcombe", "Jackdaw GT", 1965, 1974, 1792, 0),
    ("Tavóra", "Marinho", 1963, 1971, 1552, 0), ("Bellucato", "Barchetta Rally", 1970, 1974, 1752, 0),
    ("Harukaze", "Tsubame 24", 1970, 1974, 2387, 0), ("Nakamori", "Sora Sixteen", 1971, 1974, 1581, 0),
    ("Quillfeld", "Kompakt 20", 1971, 1974, 1984, 0), ("Okenden", "Pike Sport", 1969, 1974, 1594, 0),
    ("Strathmour", "Loch V8", 1970, 1974, 2992, 0), ("Falkenrath", "Typ S Coupé", 1971, 1974, 3489, 0),
    ("Delacroy", "Col Cinq", 1972, 1974, 1284, 0), ("Old Colony", "Thresher Eight", 1970, 1974, 5561, 0),
]

# country: first names, family names
PEOPLE = {
    "GBR": ("Arthur Beatrix Clement Dorothy Edmund Felicity Gideon Harriet Jocelyn Marcus Philippa Rupert Tamsin Wilfred",
            "Ashdown-Pryce Birkwith Cawthorne Dunscombe Ellerby Fothergill-Shaw Garside Hebblethwaite Kellaway Larkrise Mossop Nankivell Oxtoby Penrose-Vale Quarmby Rowntree-Hill Sedgewick Tregarthen Uttley Wetherell"),
    "IRL": ("Aoife Cormac Declan Gráinne Niall Orla Pádraig Seán", "Brannock Conneely Devaney Kilbride MacGiolla Tuohy Scanlan"),
    "FRA": ("Adrien Amélie Bertrand Céline Gaëtan Hélène Loïc Margaux Théophile Zoé", "Aubertin Boisgontier Chanteloup Delorme-Royer Faugère Grandvaux Lévêque-Marin Montagnac Peyrouse Vauquelin"),
    "BEL": ("Bavo Elke Joris Liesbeth Ward Margot", "Brouckaert D'Haeseleer Ghyselen Vanoverbeke Wauters-Claes"),
    "NLD": ("Anneke Bram Floris Joëlle Maarten Saskia", "van den Akkerveken Dijkstra-Boon Hoogerwerf Kuijntjes ter Sprakel"),
    "DEU": ("Anselm Brigitte Detlef Friederike Günther Jörg Katharina Lüder Mechthild Rainer", "Achenbruck Bärenfeld Drösemeyer Großkopf Hinrichsen Kühlwetter Mönchhausen-Lang Schütterle Weißgerber Zwirnlein"),
    "AUT": ("Leopold Roswitha Severin Veronika", "Hinterstoder Kräutner Obermoosrainer Steinwendtner"),
    "CHE": ("Beat Corina Reto Ursina", "Ambauen Caduff Flückinger Röthlisbacher"),
    "ITA": ("Alessio Benedetta Corrado Donatella Fulvio Giuditta Nicolò Ottavia Ruggero", "Bragantini Cavazzuti Dell'Olmo Fiorentelli Gambarotta Malaspighi Ravizzone Tagliasacco Zangrilli"),
    "ESP": ("Begoña Iñaki Joaquín Lucía Núria Xavi", "Arizmendi Barragán Etxeberri-Lasa Muñozgrande Quintanilla Vilasánchez"),
    "PRT": ("Afonso Inês João Lídia Simão", "Bettencourt-Sequeira Conceição Falcão-Lima Mourisca Vasconselos"),
    "SWE": ("Åke Birgitta Gunnar Östen Ylva", "Björkenstam Hägglid Lindencrona Sjögrensdal Åkerblom-Nylén"),
    "NOR": ("Bjørg Håkon Sigurd Torhild", "Aasgaarden Fjellstrøm Kværnbakken Ødegaardshaug"),
    "DNK": ("Asger Bodil Kjeld Rønne", "Bjærregaard Hjortshøj Søndervang Thygelund"),
    "FIN": ("Aarno Helmi Päivi Väinö", "Hämälänmaa Kettukangas Pyhäjärvelä Ylitorni"),
    "POL": ("Agnieszka Bożydar Łucja Zdzisław", "Brzęczykiewski Grądzielski Wiśniowolska Żółtowicz"),
    "CZE": ("Božena Jiří Vojtěch Zdeňka", "Holečkovský Křižanovic Přibyslavský Štěpánovic"),
    "HUN": ("Csongor Erzsébet Sándor", "Győrfalvi Kőszegárki Törökszentüti"),
    "GRC": ("Evanthía Thrásyvoulos", "Karavellas Papadimoulis"),
    "TUR": ("Ayşenur Çağatay Işıl", "Karabıyıkoğlu Öztürkmen"),
    "USA": ("Calvin Darlene Emmett Loretta Wade", "Abernethy-Cole Buckminster Hollowell Tuttleworth Wainscott"),
    "CAN": ("Fraser Geneviève Morag", "Desrochelles MacQuarrie-Bain Sutherby"),
    "ARG": ("Anahí Hernán Pilar", "Echagüense Iturraldé Peñalver"),
    "AUS": ("Bronwyn Clyde Lachlan", "Gillibrand Murrindale Warrick-Stone"),
    "NZL": ("Aroha Kerewin Tim", "Ngatamariki Ramsgrove"),
    "JPN": ("Hidemi Kazuo Shōzō Yūko", "Aranokawa Mizushirogane Ōkubonoki"),
    "ZAF": ("Hendrik Nomvula", "Duminyfontein Mkhwanazini"),
}
WEIGHTS = {"GBR": 44, "FRA": 16, "DEU": 19, "ITA": 13, "NLD": 8, "BEL": 8, "IRL": 7, "CHE": 6, "AUT": 6, "ESP": 6,
           "SWE": 5, "USA": 5, "PRT": 4}

# Crews that are written by hand: number of the car, driver, navigator, country.
BY_HAND = {
    57: ("\u0644\u064a\u0644\u0649 \u0628\u0646 \u064a\u0648\u0633\u0641", "\u0643\u0631\u064a\u0645 \u0627\u0644\u0645\u0631\u0648\u0627\u0646\u064a", "MAR"),
    64: ("Maximiliane-Theodora Freifrau von und zu Altenbrunn-Weißenhofer", "Ferdinand Graf Krähenwinkel zu Unterhöllensteig", "DEU"),
    83: ("Siobhán O'Dwyer-Keane", "Fionn O'Dwyer-Keane", "IRL"),
    91: ("Cosimo Brandolesi", "Letizia Brandolesi", "ITA"),
    104: ("<script>alert(1)</script> Thorne", "Robert \"Bobby\" Tabley", "GBR"),
    128: ("Jean-Baptiste-Emmanuel de la Roche-Vaubernier du Plessis-Montcornet", "Anaïs Q", "FRA"),
    151: ("大波木 裕子", "Kazuo Ōkubonoki", "JPN"),
}

CLUBS = {
    "GBR": ["Merrow Light Car Club", "Saltmill & District Motor Club", "Three Ridings Trials Club", "Pre-War Navigators' Guild"],
    "IRL": ["Four Provinces Old Car Union"], "FRA": ["Amicale des Vieilles Soupapes", "Club du Compteur Rond"],
    "BEL": ["Royal Veteran Equipage"], "NLD": ["Rijdend Verleden"], "DEU": ["Altwagen-Freunde Heidegrund", "Schnauferlrunde Nordlicht"],
    "AUT": ["Passfahrer 1925"], "CHE": ["Passfahrer 1925"], "ITA": ["Scuderia dei Pressostati", "Amici del Cronometro"],
    "ESP": ["Escudería Regularidad Norte"], "PRT": ["Clube dos Relógios Lentos"],
}
TEAMS = ["Brass & Leather", "Les Pendules", "Tortoise Racing", "Scuderia Puntuale", "Heidegrund I", "Heidegrund II",
         "Gannet Bridge Garage", "The Late Brigade", "Nordlys", "Island Hopper", "Chain Gang", "Team Läderhjälm",
         "Rijdend Verleden Oranje", "Merrow Lights", "Second Thoughts", "Borrowed Time", "Overdrive", "Centésimas",
         "Odometer Orphans", "Old Salts"]
TEAM_OF = {75: 1, 91: 3}  # the two who fight for the lead belong to different teams

# Crews good enough to win, with their strength in thousandths (0 is perfect, 1000 is hopeless).
CONTENDERS = {75: 5, 91: 0, 48: 80, 117: 40, 36: 80, 139: 98, 62: 75, 104: 70, 160: 75, 53: 95}

PERIODS = [("A", 1904), ("B", 1918), ("C", 1930), ("D", 1945), ("E", 1960), ("F", 1970), ("G", 9999)]


def period(car):
    """The period letter of a car."""
    return next(name for name, last in PERIODS if car["year"] <= last)


def car_class(car):
    """The class, such as D-2, as the rules in route.py have it."""
    cc = car["engine_cc"]
    if car["supercharged"] == "yes":
        cc = cc * 14 // 10
    return period(car) + ("-1" if cc <= 1500 else "-2" if cc <= 3000 else "-3")


def _weighted(dice):
    names = sorted(PEOPLE)
    total = sum(WEIGHTS.get(n, 2) for n in names)
    left = dice.between(0, total - 1)
    for name in names:
        left -= WEIGHTS.get(name, 2)
        if left < 0:
            return name
    return names[-1]


def _families(country):
    """Family names, with small words such as "van den" kept with what follows."""
    out, particle = [], ""
    for word in PEOPLE[country][1].split():
        if word in ("van", "den", "ter", "de"):
            particle += word + " "
        else:
            out.append(particle + word)
            particle = ""
    return out


def _crew(dice, taken):
    while True:
        home = _weighted(dice)
        away = home if dice.chance(780) else _weighted(dice)
        first = dice.pick(PEOPLE[home][0].split())
        second = dice.pick(PEOPLE[away][0].split())
        family = dice.pick(_families(home))
        other = family if home == away and dice.chance(350) else dice.pick(_families(away))
        driver, navigator = first + " " + family, second + " " + other
        if first != second and driver not in taken and navigator not in taken:
            taken.update((driver, navigator))
            return driver, navigator, home


def _cars():
    cars, last = [], {}
    for year, count in sorted(YEARS.items()):
        dice = Dice("cars|%d" % year)
        able = [m for m in MODELS if m[2] <= year <= m[3]]
        chosen = []
        while len(chosen) < count:
            # The model that has been away for longest, with some luck, so that no model fills a class.
            able.sort(key=lambda m: (last.get(m, 0) + dice.between(0, 2), m))
            chosen.append(able[0])
            last[able[0]] = last.get(able[0], 0) + 1
        cars.extend((year, m[4], m[0], m[1], m[5]) for m in chosen)
    cars.sort()
    return cars


def entries():
    """All cars by number: a list of dicts with the columns of entries.csv and "strength" (thousandths)."""
    cars = _cars()
    ranks = Dice("strength").shuffle(range(len(cars)))
    taken = set()
    for hand in BY_HAND.values():
        taken.update(hand[:2])
    out = []
    for index, (year, cc, make, model, blown) in enumerate(cars):
        number = index + 1
        dice = Dice("crew|%d" % number)
        driver, navigator, country = BY_HAND.get(number) or _crew(dice, taken)
        strength = CONTENDERS.get(number, 100 + ranks[index] * 900 // len(cars))
        touring = number not in CONTENDERS and strength > 330 and dice.chance(250)
        clubs = CLUBS.get(country, [])
        out.append({
            "number": number, "driver": driver, "navigator": navigator, "make": make, "model": model, "year": year,
            "engine_cc": cc, "supercharged": "yes" if blown else "no",
            "category": "touring" if touring else "competition", "team": "", "country": country,
            "club": dice.pick(clubs) if clubs and dice.chance(800) else "", "strength": strength,
        })
    _teams(out)
    return out


def _teams(cars):
    racing = Dice("teams").shuffle([c for c in cars if c["category"] == "competition"])
    for number, team in TEAM_OF.items():
        cars[number - 1]["team"] = TEAMS[team]
    free = [c for c in racing if not c["team"]]
    for index, team in enumerate(TEAMS):
        have = sum(1 for c in cars if c["team"] == team)
        for _ in range(3 + index % 3 - have):
            free.pop()["team"] = team
