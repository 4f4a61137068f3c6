// Channels in German, French, Spanish, Italian and Portuguese: plain dictionary words of the workshop, for logs that are not in English.

import type { QuantityId } from '../quantities/quantity.js';

const WORDS: Readonly<Partial<Record<QuantityId, string>>> = {
  time: 'Zeit, Temps, Tiempo, Tempo',
  'engine-speed': 'Drehzahl, Motordrehzahl, régime moteur, régime, tours moteur, régimen motor, revoluciones, revoluciones motor, giri motore, giri, regime motore, rotação, rotação motor, rotações, rotações motor',
  'manifold-pressure': `Saugrohrdruck, Ansaugdruck, Krümmerdruck, pression collecteur, pression admission, pression collecteur admission, presión admisión, presión colector, presión colector admisión,
    pressione collettore, pressione aspirazione, pressão coletor, pressão admissão, pressão coletor admissão`,
  'barometric-pressure': 'Luftdruck, Umgebungsdruck, pression atmosphérique, presión atmosférica, pressione atmosferica, pressão atmosférica',
  throttle: `Drosselklappe, Drosselklappenstellung, Drosselklappenwinkel, Drosselklappenöffnung, papillon, position papillon, ouverture papillon, mariposa, posición mariposa, apertura mariposa,
    farfalla, posizione farfalla, apertura farfalla, borboleta, posição borboleta, abertura borboleta`,
  pedal: 'Gaspedal, Fahrpedal, Gaspedalstellung, Fahrpedalstellung, pédale accélérateur, pedal acelerador, pedale acceleratore, pedal acelerador',
  'coolant-temperature': `Kühlmitteltemperatur, Kühlwassertemperatur, Wassertemperatur, Motortemperatur, température liquide refroidissement, température eau, température moteur, temperatura refrigerante,
    temperatura agua, temperatura motor, temperatura acqua, temperatura liquido refrigerante, temperatura motore, temperatura água, temperatura líquido arrefecimento`,
  'intake-air-temperature': `Ansauglufttemperatur, Ladelufttemperatur, Lufttemperatur, température air admission, température air, temperatura aire admisión, temperatura aire, temperatura aria aspirata,
    temperatura aria, temperatura ar admissão, temperatura ar`,
  'oil-temperature': 'Öltemperatur, Motoröltemperatur, température huile, temperatura aceite, temperatura olio, temperatura óleo',
  'exhaust-gas-temperature': 'Abgastemperatur, température échappement, temperatura escape, temperatura gas scarico, temperatura escapamento',
  'oil-pressure': 'Öldruck, Motoröldruck, pression huile, presión aceite, pressione olio, pressão óleo',
  'fuel-pressure': 'Kraftstoffdruck, Benzindruck, pression carburant, pression essence, presión combustible, pressione carburante, pressione benzina, pressão combustível',
  'ignition-advance': 'Zündwinkel, Zündzeitpunkt, avance allumage, avance à allumage, avance encendido, anticipo accensione, avanço ignição',
  'injector-pulse-width': 'Einspritzzeit, Einspritzdauer, temps injection, durée injection, tiempo inyección, tempo iniezione, tempo injeção',
  'mass-air-flow': 'Luftmasse, Luftmassenstrom, débit air, caudal aire, portata aria, fluxo ar',
  'vehicle-speed': 'Geschwindigkeit, Fahrgeschwindigkeit, Fahrzeuggeschwindigkeit, vitesse, vitesse véhicule, velocidad, velocidad vehículo, velocità, velocità veicolo, velocidade, velocidade veículo',
  'battery-voltage': 'Batteriespannung, Bordspannung, tension batterie, voltaje batería, tensión batería, tensione batteria, tensão bateria',
  'engine-load': 'Motorlast, charge moteur, carga motor, carico motore',
};

/** Little words between the others. */
const LINKS = new Set(['de', 'du', 'des', 'd', 'la', 'le', 'l', 'del', 'el', 'di', 'della', 'dell', 'do', 'da', 'dos', 'der', 'a']);

/** Lower case, accents off (`ü`, `ue` and `u` alike), links left out; order kept. */
const keyOf = (name: string): string => name.slice(0, 120).normalize('NFD').replace(/\p{M}/gu, '').toLowerCase().replace(/([aou])e/g, '$1')
  .split(/[^a-z]+/).filter((word) => word !== '' && !LINKS.has(word)).join(' ');

const BY_KEY = new Map((Object.entries(WORDS) as [QuantityId, string][]).flatMap(([quantity, names]) => names.split(',').map((name) => [keyOf(name), quantity] as const)));

/** The quantity of a name in one of the five languages; undefined for any other. A clock's word is short and common, so it is only a guess. */
export const recogniseForeign = (name: string): { readonly quantity: QuantityId; readonly from: 'name' | 'guess' } | undefined => {
  const quantity = BY_KEY.get(keyOf(name));
  return quantity && { quantity, from: quantity === 'time' ? 'guess' : 'name' };
};
