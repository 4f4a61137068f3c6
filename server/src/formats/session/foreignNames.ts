// Channels in German, French, Spanish, Italian, Portuguese, Dutch and Swedish: plain dictionary words of the workshop, for logs that are not in
// English.

import type { QuantityId } from '../../quantities/quantity.js';

const WORDS: Readonly<Partial<Record<QuantityId, string>>> = {
  time: 'Zeit, Temps, Tiempo, Tempo, Tijd, Tid',
  'engine-speed':
    'Drehzahl, Motordrehzahl, régime moteur, régime, tours moteur, régimen motor, revoluciones, revoluciones motor, giri motore, giri, regime motore, rotação, rotação motor, rotações, rotações motor, toerental, motortoerental, varvtal, motorvarvtal, motorvarv',
  'manifold-pressure': `Saugrohrdruck, Ansaugdruck, Krümmerdruck, Ladedruck, Ladeluftdruck, pression suralimentation, pression turbo, presión sobrealimentación, presión turbo, pressione sovralimentazione, pressione turbo, pressão sobrealimentação, pressão turbo, laaddruk, turbodruk, pression collecteur, pression admission, pression collecteur admission, presión admisión, presión colector, presión colector admisión,
    pressione collettore, pressione aspirazione, pressão coletor, pressão admissão, pressão coletor admissão, inlaatdruk, spruitstukdruk, inlaatspruitstukdruk, insugstryck, insugsrörstryck, grenrörstryck, laddtryck, turbotryck`,
  'barometric-pressure':
    'Luftdruck, Umgebungsdruck, pression atmosphérique, presión atmosférica, pressione atmosferica, pressão atmosférica, luchtdruk, omgevingsdruk, lufttryck, atmosfärstryck, omgivningstryck',
  throttle: `Drosselklappe, Drosselklappenstellung, Drosselklappenwinkel, Drosselklappenöffnung, papillon, position papillon, ouverture papillon, mariposa, posición mariposa, apertura mariposa,
    farfalla, posizione farfalla, apertura farfalla, borboleta, posição borboleta, abertura borboleta, gasklep, gasklepstand, gasklephoek, gasklepopening, gasspjäll, gasspjällsläge, gasspjällsvinkel, gasspjällsöppning, trottel, trottelläge, spjälläge`,
  pedal:
    'Gaspedal, Fahrpedal, Gaspedalstellung, Fahrpedalstellung, pédale accélérateur, pedal acelerador, pedale acceleratore, pedal acelerador, gaspedaal, gaspedaalstand, gaspedalläge, gaspedalens läge',
  'coolant-temperature': `Kühlmitteltemperatur, Kühlwassertemperatur, Wassertemperatur, Motortemperatur, température liquide refroidissement, température eau, température moteur, temperatura refrigerante,
    temperatura agua, temperatura motor, temperatura acqua, temperatura liquido refrigerante, temperatura motore, temperatura água, temperatura líquido arrefecimento, koelvloeistoftemperatuur, koelwatertemperatuur, watertemperatuur, motortemperatuur, kylvattentemperatur, kylvattnets temperatur, kylvätsketemperatur, kylvätskans temperatur, vattentemperatur`,
  'intake-air-temperature': `Ansauglufttemperatur, Ladelufttemperatur, Lufttemperatur, température air admission, température air, temperatura aire admisión, temperatura aire, temperatura aria aspirata,
    temperatura aria, temperatura ar admissão, temperatura ar, inlaatluchttemperatuur, inlaattemperatuur, luchttemperatuur, insugstemperatur, insugslufttemperatur, insugsluftens temperatur, laddluftstemperatur, laddlufttemperatur`,
  'oil-temperature':
    'Öltemperatur, Motoröltemperatur, température huile, temperatura aceite, temperatura olio, temperatura óleo, olietemperatuur, motorolietemperatuur, oljetemperatur, oljans temperatur, motoroljetemperatur',
  'exhaust-gas-temperature':
    'Abgastemperatur, température échappement, temperatura escape, temperatura gas scarico, temperatura escapamento, uitlaatgastemperatuur, uitlaattemperatuur, avgastemperatur, avgasernas temperatur',
  'oil-pressure':
    'Öldruck, Motoröldruck, pression huile, presión aceite, pressione olio, pressão óleo, oliedruk, motoroliedruk, oljetryck, motoroljetryck',
  'fuel-pressure':
    'Kraftstoffdruck, Benzindruck, pression carburant, pression essence, presión combustible, pressione carburante, pressione benzina, pressão combustível, brandstofdruk, benzinedruk, bränsletryck, bensintryck',
  'ignition-advance':
    'Zündwinkel, Zündzeitpunkt, avance allumage, avance à allumage, avance encendido, anticipo accensione, avanço ignição, ontstekingstijdstip, ontstekingshoek, ontstekingsvervroeging, voorontsteking, tändvinkel, tändläge, tändtidpunkt, förtändning, tändförställning',
  'injector-pulse-width':
    'Einspritzzeit, Einspritzdauer, temps injection, durée injection, tiempo inyección, tempo iniezione, tempo injeção, inspuittijd, inspuitduur, injectietijd, insprutningstid, spridartid, spridarnas öppningstid',
  'mass-air-flow':
    'Luftmasse, Luftmassenstrom, Luftmassendurchsatz, débit air, débit masse air, débit massique air, caudal aire, caudal masa aire, flujo masa aire, portata aria, portata massa aria, massa aria, fluxo ar, fluxo massa ar, luchtmassa, luchtmassastroom, luftmassa, luftflöde, luftmassflöde',
  'vehicle-speed':
    'Geschwindigkeit, Fahrgeschwindigkeit, Fahrzeuggeschwindigkeit, vitesse, vitesse véhicule, velocidad, velocidad vehículo, velocità, velocità veicolo, velocidade, velocidade veículo, snelheid, rijsnelheid, voertuigsnelheid, hastighet, fordonshastighet',
  'battery-voltage':
    'Batteriespannung, Bordspannung, tension batterie, voltaje batería, tensión batería, tensione batteria, tensão bateria, accuspanning, boordspanning, batterispänning',
  lambda: `Lambdawert, Lambda Ist, Lambda Istwert, Lambda gemessen, Lambdasonde, Luftzahl, Breitbandlambda, Breitband Lambda, Lambda Breitband, lambda mesuré, lambda mesurée, sonde lambda, richesse, richesse mesurée,
    lambda medido, lambda medida, sonda lambda, lambda misurato, lambda misurata, lambdawaarde, lambda gemeten, gemeten lambda, lambdavärde, uppmätt lambda`,
  'target-lambda': `Lambda Soll, Lambda Sollwert, Sollwert Lambda, Solllambda, Lambda Ziel, Ziellambda, Zielwert Lambda, lambda cible, cible lambda, lambda consigne, lambda demandé, richesse cible, richesse consigne,
    lambda objetivo, lambda deseado, lambda deseada, lambda consigna, lambda obiettivo, lambda richiesto, lambda desiderato, lambda alvo, lambda desejado, lambda doel, lambda doelwaarde, lambda gewenst, gewenste lambda, lambda streefwaarde, börvärde lambda, önskat lambda, mållambda, lambdamål`,
  'knock-retard': `Klopfrücknahme, Zündrücknahme, Zündwinkelrücknahme, Klopfregelung Rücknahme, Zündwinkelrücknahme Klopfen, retrait cliquetis, retrait avance cliquetis, retard cliquetis, retrait allumage, retrait avance,
    retardo detonación, retardo picado, retraso detonación, retraso encendido detonación, ritardo detonazione, ritardo accensione detonazione, ritardo battito, atraso detonação, atraso ignição detonação`,
  'injector-duty': `Einspritzventil Tastverhältnis, Tastverhältnis Einspritzventile, Einspritzdüsen Tastverhältnis, Tastverhältnis Einspritzung, Einspritzventil Auslastung, Auslastung Einspritzventile, Düsenauslastung, Einspritzdüsen Auslastung,
    rapport cyclique injecteur, rapport cyclique injecteurs, taux ouverture injecteurs, ciclo trabajo inyector, ciclo trabajo inyectores, ciclo inyectores, ciclo lavoro iniettore, ciclo lavoro iniettori,
    ciclo trabalho injetor, ciclo trabalho injetores, inschakelduur injectoren, inschakelduur injector, pulskvot spridare, spridarnas pulskvot, spridarbelastning`,
  'mass-air-flow-signal':
    'Luftmassenmesser Spannung, Luftmassenmesser Signal, Spannung Luftmassenmesser, tension débitmètre, signal débitmètre, tensión caudalímetro, señal caudalímetro, tensione debimetro, segnale debimetro, tensão medidor ar, luchtmassameter spanning, spanning luchtmassameter, luftmassemätare spänning, spänning luftmassemätare',
  'ethanol-content':
    'Ethanolgehalt, Ethanolanteil, Alkoholgehalt, teneur éthanol, taux éthanol, pourcentage éthanol, contenido etanol, porcentaje etanol, contenuto etanolo, percentuale etanolo, teor etanol, porcentagem etanol, ethanolgehalte, ethanolpercentage, alcoholgehalte, etanolhalt, etanolandel, alkoholhalt',
  gear: 'Gang, Gangstufe, eingelegter Gang, rapport engagé, vitesse engagée, rapport boîte, marcha, marcha engranada, marcia, marcia inserita, marcha engatada, versnellingsstand, ingeschakelde versnelling, växel, ilagd växel',
  'fuel-cut':
    'Schubabschaltung, Einspritzabschaltung, coupure injection, coupure décélération, coupure carburant, corte inyección, corte combustible, taglio iniezione, taglio carburante, corte injeção, brandstofafsluiting, brandstofonderbreking, bränsleavstängning, insprutningsavstängning',
  'trouble-code':
    'Fehlercode, Fehlercodes, Fehlerspeicher, code défaut, codes défaut, código avería, códigos avería, código error, codice errore, codici errore, codice guasto, código falha, foutcode, foutcodes, storingscode, storingscodes, felkod, felkoder',
  'engine-load': 'Motorlast, charge moteur, carga motor, carico motore, motorbelasting, motorlast',
};

/**
 * A fuel trim is a correction of the fuel with a word for how long it lasts, in either order: what is corrected, how, over a short and over
 * a long time. A correction that says neither is left unknown: it may be any.
 */
const TRIMS: readonly (readonly [corrections: string, short: string, long: string])[] = [
  [
    `Kraftstoffkorrektur, Kraftstofftrimmung, Kraftstofftrimm, Kraftstofftrim, Kraftstoffanpassung, Kraftstoffadaption, Kraftstoff Trim, Kraftstoff Korrektur, Kraftstoff Anpassung, Gemischkorrektur, Gemischanpassung, Gemischadaption, Gemisch Korrektur,
    Gemisch Trim, Gemisch Adaption, Gemischtrimmung, Lambdakorrektur, Lambdaadaption, Lambda Korrektur, Lambda Adaption, Einspritzkorrektur, Benzinkorrektur, Korrektur, Trim, Trimm, Trimmung, Adaption, Anpassung`,
    'kurz, kurzzeit, kurzfristig, kurzfristige, kurzfristiger',
    'lang, langzeit, langfristig, langfristige, langfristiger',
  ],
  [
    `correction, correction carburant, correction essence, correction mélange, correction richesse, correction injection, correction lambda, adaptation, adaptation carburant, adaptation mélange, adaptation richesse, ajustement carburant, ajustement mélange,
    compensation carburant, réglage carburant, trim carburant, trim`,
    'court terme, court, courte durée, courte',
    'long terme, long, longue durée, longue',
  ],
  [
    `corrección, corrección combustible, corrección mezcla, corrección inyección, corrección lambda, ajuste, ajuste combustible, ajuste mezcla, adaptación, adaptación combustible, adaptación mezcla, compensación combustible, trim combustible, trim`,
    'corto plazo, corto',
    'largo plazo, largo',
  ],
  [
    `correzione, correzione carburante, correzione benzina, correzione miscela, correzione titolo, correzione iniezione, correzione lambda, adattamento, adattamento carburante, adattamento miscela, regolazione carburante, compensazione carburante,
    trim carburante, trim`,
    'breve termine, breve, corto termine',
    'lungo termine, lungo',
  ],
  [
    'correção, correção combustível, correção mistura, correção injeção, correção lambda, ajuste, ajuste combustível, ajuste mistura, adaptação, adaptação combustível, compensação combustível, trim combustível, trim',
    'curto prazo, curto',
    'longo prazo, longo',
  ],
  [
    'brandstofcorrectie, brandstoftrim, brandstofaanpassing, mengselcorrectie, mengselaanpassing, lambdacorrectie, correctie, aanpassing, trim',
    'korte termijn, kort',
    'lange termijn, lang',
  ],
  ['bränslekorrektion, bränslekorrigering, bränsletrim, lambdakorrektion, korrektion, korrigering, trim', 'korttid, kort', 'långtid, lång'],
];

/** Little words between the others, and those that say nothing. */
const LINKS = new Set([
  'de',
  'du',
  'des',
  'd',
  'la',
  'le',
  'l',
  'del',
  'el',
  'di',
  'della',
  'dell',
  'do',
  'da',
  'dos',
  'der',
  'a',
  'al',
  'dei',
  'degli',
  'los',
  'las',
  'les',
  'den',
  'gli',
  'zum',
  'in',
  'en',
]);

const BANK = /(?:\b(?:zylinder)?bank|\brang[ée]e|\bbanc|\bbanco|\bbancada|\bbancata|\bb)[\s_#.:-]*([12])\b/i;

/**
 * Lower case, accents off (`ü`, `ue` and `u` alike), links left out, glued German words for time parted; in the order of the alphabet, as
 * languages and loggers do not agree on any.
 */
const keyOf = (name: string): string =>
  [
    ...new Set(
      name
        .slice(0, 120)
        .normalize('NFD')
        .replace(/\p{M}/gu, '')
        .toLowerCase()
        .replace(/([aou])e/g, '$1')
        .replace(/\b((?:kurz|lang)zeit)(?=[a-z])/g, '$1 ')
        .split(/[^a-z]+/)
        .filter((word) => word !== '' && !LINKS.has(word)),
    ),
  ]
    .sort()
    .join(' ');

const listed = (names: string): string[] => names.split(',');

let byKey: ReadonlyMap<string, QuantityId> | undefined;

/** Made when the first name is asked for that is none of English: a program starts without it. */
const keys = (): ReadonlyMap<string, QuantityId> =>
  (byKey ??= new Map<string, QuantityId>([
    ...TRIMS.flatMap(([corrections, ...terms]) =>
      (['short-term-fuel-trim', 'long-term-fuel-trim'] as const).flatMap((quantity, at) =>
        listed(corrections).flatMap((correction) => listed(terms[at]).map((term) => [keyOf(`${correction} ${term}`), quantity] as const)),
      ),
    ),
    ...(Object.entries(WORDS) as [QuantityId, string][]).flatMap(([quantity, names]) =>
      listed(names).map((name) => [keyOf(name), quantity] as const),
    ),
  ]));

/** For the page of names; of trims one in each language. */
export const foreignNames = (quantity: QuantityId): readonly string[] => {
  const at = quantity === 'short-term-fuel-trim' ? 1 : quantity === 'long-term-fuel-trim' ? 2 : 0;
  return (at > 0 ? TRIMS.map((trim) => `${listed(trim[0])[0]} ${listed(trim[at])[0]}`) : listed(WORDS[quantity] ?? ''))
    .map((name) => name.trim())
    .filter((name) => name !== '');
};

/**
 * The quantity of a name in one of the seven languages, and the bank that it names; undefined for any other. A clock's word is short and
 * common, so it is only a guess.
 */
export const recogniseForeign = (
  name: string,
): { readonly quantity: QuantityId; readonly from: 'name' | 'guess'; readonly bank: number | undefined } | undefined => {
  const bank = BANK.exec(name),
    quantity = keys().get(keyOf(bank ? name.replace(bank[0], ' ') : name));
  return quantity && { quantity, from: quantity === 'time' ? 'guess' : 'name', bank: bank ? Number(bank[1]) : undefined };
};
