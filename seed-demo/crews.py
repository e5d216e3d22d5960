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

# make, model, first year, last year, capacity in cc, supercharged. Models are named after the island's
# birds, rocks and tides; no make has the years, sizes or names of one that was.
MODELS = [
    ("Garrodine", "Chain-Drive", 1908, 1911, 8170, 0), ("Averne", "Bernique", 1909, 1914, 1335, 0),
    ("Thornbeck", "Fulmar Landaulet", 1910, 1916, 3560, 0), ("Morvessin", "Biplace", 1911, 1916, 2330, 0),
    ("Dornreiter", "Seewagen", 1908, 1912, 4870, 0), ("Pellworth", "Foreshore Torpedo", 1912, 1918, 2690, 0),
    ("Corvane", "Voiturette", 1908, 1912, 1370, 0), ("Cutshaw", "Breakwater Tourer", 1909, 1914, 4290, 0),
    ("Okenden", "Saltlick Two-Seater", 1912, 1918, 4340, 0),
    ("Calder", "Four", 1922, 1927, 1360, 0), ("Calder", "Six", 1927, 1933, 1695, 0),
    ("Calder", "Six Sports Tourer", 1935, 1939, 3110, 0), ("Pellworth", "Dunlin", 1920, 1925, 1235, 0),
    ("Pellworth", "Knot", 1927, 1931, 2080, 0), ("Averne", "Macareux", 1922, 1928, 1225, 0),
    ("Ravanel", "Courlis", 1921, 1926, 1873, 0), ("Ravanel", "Courlis à compresseur", 1925, 1930, 1642, 1),
    ("Castrelli", "Piviere", 1924, 1930, 1310, 1), ("Castrelli", "Piviere Lungo", 1933, 1937, 2075, 1),
    ("Bellucato", "Ghiozzo", 1921, 1926, 1165, 0), ("Falkenrath", "Brandung", 1925, 1930, 3410, 1),
    ("Dornreiter", "Reisewagen", 1920, 1925, 3560, 0), ("Thornbeck", "Sanderling", 1920, 1926, 1730, 0),
    ("Thornbeck", "Greenshank", 1923, 1932, 5560, 0), ("Hexley", "Stint", 1920, 1926, 920, 0),
    ("Hexley", "Stint Blown", 1930, 1934, 920, 1), ("Wolvercote", "Linnet", 1926, 1932, 1345, 0),
    ("Okenden", "Sandbar Six", 1921, 1927, 3920, 0), ("Hollenbrook", "Flood Tide Eight", 1926, 1931, 3790, 0),
    ("Ibarrola", "Rompeolas", 1920, 1926, 4170, 0), ("Lindqvar", "Strandskata", 1924, 1929, 2270, 0),
    ("Hexley", "Turnstone Special", 1934, 1939, 1170, 0), ("Strathmour", "Skerry Six", 1935, 1939, 2390, 0),
    ("Strathmour", "Solan Drophead", 1932, 1936, 4965, 0), ("Wexcombe", "Dotterel", 1932, 1935, 1410, 0),
    ("Wexcombe", "Dotterel Blown", 1930, 1933, 1410, 1), ("Marchbanks-Lyle", "Wheatear", 1933, 1938, 1830, 0),
    ("Marchbanks-Lyle", "\"Doctor's\" Coupé, short chassis", 1930, 1935, 1340, 0),
    ("Quillfeld", "Kiebitz Sport", 1933, 1937, 2185, 0), ("Quillfeld", "Zwergseeschwalbe 1,4", 1932, 1938, 1380, 0),
    ("Delacroy", "Goéland", 1931, 1935, 2870, 0), ("Velletra", "Berta", 1934, 1938, 1620, 0),
    ("Brocklow-Day", "Guillemot", 1928, 1933, 3870, 0), ("Vltavan", "Ledňáček", 1931, 1936, 2790, 1),
    ("Hollenbrook", "Ebb Tide Sedan", 1933, 1937, 4935, 0), ("Lindqvar", "Isvinter", 1933, 1937, 4060, 0),
    ("Strathmour", "Razorbill", 1952, 1957, 3155, 0), ("Wexcombe", "Whimbrel", 1951, 1957, 1715, 0),
    ("Wexcombe", "Chough", 1959, 1964, 1365, 0), ("Calder", "Firth", 1949, 1953, 1620, 0),
    ("Calder", "Firth Six", 1956, 1961, 2280, 0), ("Velletra", "Folaga", 1948, 1954, 1540, 0),
    ("Castrelli", "Pavoncella", 1951, 1957, 1180, 0), ("Bellucato", "Risacca", 1956, 1960, 2190, 0),
    ("Quillfeld", "Kiebitz Coupé", 1955, 1960, 1785, 0), ("Falkenrath", "Watt", 1950, 1956, 2676, 0),
    ("Falkenrath", "Windwatt", 1958, 1963, 4085, 0), ("Lindqvar", "Tobisgrissla", 1953, 1959, 1290, 0),
    ("Sorbye", "Lomvi", 1959, 1963, 940, 0), ("Delacroy", "Sterne", 1950, 1954, 960, 0),
    ("Okenden", "Nor'easter Six", 1946, 1952, 3270, 0), ("Hexley", "Stonechat", 1954, 1958, 1030, 0),
    ("Pellworth", "Stack", 1946, 1952, 2235, 0), ("Penhallick", "Foreland", 1946, 1951, 2160, 0),
    ("Hexley", "Pipit Saloon", 1967, 1974, 1405, 0), ("Lindqvar", "Skrake", 1965, 1971, 2180, 0),
    ("Castrelli", "Chiurlo", 1964, 1969, 1930, 0), ("Quillfeld", "Regenpfeifer", 1962, 1968, 1385, 0),
    ("Velletra", "Folaga Sport", 1962, 1968, 1655, 0), ("Strathmour", "Razorbill Fastback", 1964, 1968, 3280, 0),
    ("Falkenrath", "Nehrung", 1960, 1965, 2640, 0), ("Okenden", "Saltlick Eight", 1961, 1966, 3910, 0),
    ("Calder", "Curlew", 1963, 1969, 2310, 0), ("Delacroy", "Bernache", 1966, 1971, 1425, 0),
    ("Sorbye", "Teist", 1969, 1974, 1350, 0), ("Wexcombe", "Phalarope", 1968, 1974, 2240, 0),
    ("Tavóra", "Maçarico", 1966, 1971, 1245, 0), ("Bellucato", "Bassamarea", 1972, 1974, 2110, 0),
    ("Harukaze", "Chidori", 1967, 1971, 2150, 0), ("Nakamori", "Isoshigi", 1968, 1973, 1740, 0),
    ("Quillfeld", "Austernfischer", 1969, 1974, 3245, 0), ("Okenden", "Sandbar Sport", 1967, 1972, 2510, 0),
    ("Strathmour", "Spindrift", 1967, 1972, 2275, 0), ("Falkenrath", "Nehrung Coupé", 1968, 1973, 4040, 0),
    ("Delacroy", "Bernache Longue", 1971, 1974, 2475, 0), ("Cutshaw", "Breakwater Eight", 1968, 1973, 6090, 0),
]

# country: first names, family names, these the same for women and men
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
    "DNK": ("Asger Bodil Kjeld Regitze", "Bjærregaard Hjortshøj Søndervang Thygelund"),
    "FIN": ("Aarno Helmi Päivi Väinö", "Hämälänmaa Kettukangas Pyhäjärvelä Ylitorni"),
    "POL": ("Agnieszka Bożydar Łucja Zdzisław", "Brzęczykiewicz Grądzielak Wiśniowolec Żółtowicz"),
    "CZE": ("Božena Jiří Vojtěch Zdeňka", "Holečků Křižanovic Přibyslavní Štěpánovic"),
    "HUN": ("Csongor Erzsébet Sándor", "Győrfalvi Kőszegárki Törökszentüti"),
    "GRC": ("Evanthía Thrásyvoulos", "Karavelliou Papaskaliou"),
    "TUR": ("Ayşenur Çağatay Işıl", "Karabıyıkoğlu Öztürkmen"),
    "USA": ("Calvin Darlene Emmett Loretta Wade", "Abernethy-Cole Buckminster Hollowell Tuttleworth Wainscott"),
    "CAN": ("Fraser Geneviève Morag", "Desrochelles MacQuarrie-Bain Sutherby"),
    "ARG": ("Anahí Hernán Pilar", "Echagüense Iturraldé Peñalver"),
    "AUS": ("Bronwyn Clyde Lachlan", "Gillibrand Murrindale Warrick-Stone"),
    "NZL": ("Aroha Marama Tim", "Ngatamariki Ramsgrove"),
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
    "BEL": ["Royal Veteran Equipage"], "NLD": ["Rijgezelschap De Zandbank"], "DEU": ["Altwagen-Freunde Heidegrund", "Schnauferlrunde Nordlicht"],
    "AUT": ["Passfahrer 1925"], "CHE": ["Passfahrer 1925"], "ITA": ["Scuderia dei Pressostati", "Amici del Cronometro"],
    "ESP": ["Escudería Regularidad Norte"], "PRT": ["Clube dos Relógios Lentos"],
}
TEAMS = ["Brass & Leather", "Les Pendules", "Tortoise Racing", "Scuderia Puntuale", "Heidegrund I", "Heidegrund II",
         "Gannet Bridge Garage", "The Late Brigade", "Nordlys", "Island Hopper", "Chain Gang", "Team Läderhjälm",
         "Zandbank Oranje", "Merrow Lights", "Second Thoughts", "Borrowed Time", "Overdrive", "Centésimas",
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
