"""The words of the charts, language by language. French and Spanish are from memory: to be read by native speakers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from cure.dashboard.scales import DAYS
from shared.models.setup import Zone


@dataclass(frozen=True, slots=True)
class Words:
    """One language."""

    strength: str
    temperature: str
    estimate: str
    lower_bound: str
    between: str
    """What the band of strength is."""
    forecast: str
    now: str
    equivalent_age: str
    counted: str
    cold: str
    gaps: str
    not_read: str
    """Sensor and hours are put into it."""
    credited: str
    """Followed by a temperature."""
    not_credited: str
    in_its_place: str
    """Followed by what stands in."""
    air: str
    freezing: str
    counts_from: str
    hottest: str
    tested: str
    """How a test of the concrete is told: method, and by whom."""
    hours: str
    calibration: str
    maturity: str
    band: str
    residual: str
    tested_range: str
    verification: str
    """Mix and version are put into it."""
    over_curve: str
    running_sum: str
    sets: str
    rates: str
    curing: str
    """Of the axis of 1000/T."""
    ln_k: str
    days: tuple[str, ...] = DAYS
    zones: Mapping[str, str] | None = None
    """None: as the site file has them."""
    operations: Mapping[str, str] | None = None

    def zone(self, zone: Zone) -> str:
        """Return the name of a zone."""
        return (self.zones or {}).get(zone, zone.value)

    def operation(self, operation: str) -> str:
        """Return the name of an operation; one of the site's own is in its own language."""
        return (self.operations or {}).get(operation, operation)


WORDS: Final[Mapping[str, Words]] = {
    "en": Words(
        strength="Strength in place",
        temperature="Temperature of each sensor",
        estimate="estimate",
        lower_bound="lower bound",
        between="from the lower bound to the estimate",
        forecast="forecast",
        now="now",
        equivalent_age="equiv. age, h",
        counted="counted",
        cold="the coldest zone is below",
        gaps="gaps",
        not_read="{sensor}: not read for {hours} h",
        credited="credited at",
        not_credited="not credited",
        in_its_place="in its place:",
        air="air",
        freezing="freezing",
        counts_from="counts from",
        hottest="hottest",
        tested="{method}, {by}: ",
        hours="h",
        calibration="Strength over equivalent age",
        maturity="equivalent age at 20 °C, h",
        band="where the curve lies, 10 to 90 %",
        residual="residual",
        tested_range="tested range",
        verification="Verification of {name}",
        over_curve="strength over curve, %",
        running_sum="running sum of what falls short of 97.5 %, %",
        sets="set of cylinders, in the order of testing",
        rates="Rate constant of the mortar cubes over temperature",
        curing="curing temperature, as 1000/T, 1/K",
        ln_k="ln k, k in 1/d",
    ),
    "fr": Words(
        strength="Résistance en place",
        temperature="Température de chaque capteur",
        estimate="estimation",
        lower_bound="borne basse",
        between="de la borne basse à l'estimation",
        forecast="prévision",
        now="maintenant",
        equivalent_age="âge équiv., h",
        counted="comptées",
        cold="la zone la plus froide est sous",
        gaps="lacunes",
        not_read="{sensor} : pas de mesure pendant {hours} h",
        credited="compté à",
        not_credited="non compté",
        in_its_place="à sa place :",
        air="air",
        freezing="gel",
        counts_from="compte dès",
        hottest="maximum",
        tested="{method}, {by} : ",
        hours="h",
        calibration="Résistance selon l'âge équivalent",
        maturity="âge équivalent à 20 °C, h",
        band="où se trouve la courbe, 10 à 90 %",
        residual="résidu",
        tested_range="domaine essayé",
        verification="Vérification de {name}",
        over_curve="résistance sur courbe, %",
        running_sum="somme courante de ce qui manque à 97,5 %, %",
        sets="série de cylindres, dans l'ordre des essais",
        rates="Constante de vitesse des cubes de mortier selon la température",
        curing="température de mûrissement, en 1000/T, 1/K",
        ln_k="ln k, k en 1/j",
        days=("lun.", "mar.", "mer.", "jeu.", "ven.", "sam.", "dim."),
        zones={
            "exposed edge": "rive exposée",
            "last-placed end": "fin de coulage",
            "interior": "intérieur",
            "top": "dessus",
            "at steel": "à l'acier",
            "air": "air",
            "air below": "air dessous",
        },
        operations={"strip": "décoffrer", "walk": "marcher", "load": "charger", "full load": "pleine charge"},
    ),
    "es": Words(
        strength="Resistencia en sitio",
        temperature="Temperatura de cada sensor",
        estimate="estimación",
        lower_bound="cota inferior",
        between="de la cota inferior a la estimación",
        forecast="pronóstico",
        now="ahora",
        equivalent_age="edad equiv., h",
        counted="contadas",
        cold="la zona más fría está por debajo de",
        gaps="huecos",
        not_read="{sensor}: sin lectura durante {hours} h",
        credited="contado a",
        not_credited="no contado",
        in_its_place="en su lugar:",
        air="aire",
        freezing="helada",
        counts_from="cuenta desde",
        hottest="máximo",
        tested="{method}, {by}: ",
        hours="h",
        calibration="Resistencia según la edad equivalente",
        maturity="edad equivalente a 20 °C, h",
        band="dónde está la curva, 10 a 90 %",
        residual="residuo",
        tested_range="intervalo ensayado",
        verification="Verificación de {name}",
        over_curve="resistencia sobre curva, %",
        running_sum="suma corrida de lo que falta hasta 97,5 %, %",
        sets="serie de cilindros, en el orden de ensayo",
        rates="Constante de velocidad de los cubos de mortero según la temperatura",
        curing="temperatura de curado, como 1000/T, 1/K",
        ln_k="ln k, k en 1/d",
        days=("lun", "mar", "mié", "jue", "vie", "sáb", "dom"),
        zones={
            "exposed edge": "borde expuesto",
            "last-placed end": "último vertido",
            "interior": "interior",
            "top": "cara superior",
            "at steel": "junto al acero",
            "air": "aire",
            "air below": "aire debajo",
        },
        operations={"strip": "desencofrar", "walk": "pisar", "load": "cargar", "full load": "carga plena"},
    ),
}
