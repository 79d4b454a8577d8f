/**
 * Sources of formulas and table values, each with its standing, that is, how well it is known:
 * `published` (read for this project), `from-memory` (published, quoted from memory: check before relying on the last
 * digit), `common-practice` (used in the trade, no source), `derived` (follows from definitions by arithmetic shown in
 * the docs), `user` (entered by a user), `measured` (a reading given by the caller).
 */
export const STANDINGS = [
  'published',
  'from-memory',
  'common-practice',
  'derived',
  'user',
  'measured',
] as const

export type Standing = (typeof STANDINGS)[number]

export interface Source {
  readonly title: string
  readonly standing: Standing
  readonly use: string
}

/** A source with its id. `GET /v1/sources` lists the registry. */
export const SOURCES = {
  definitions: {
    title: 'Definitions of the units and of the quantities, and arithmetic on them',
    standing: 'derived',
    use: 'Exact conversions, turns and pulses per distance, timer arithmetic.',
  },
  'caller-reading': {
    title: 'Reading or value given in the request',
    standing: 'measured',
    use: 'Used as given, with the uncertainty given for it.',
  },
  'stored-tire-size': {
    title: 'Tire size stored by a user',
    standing: 'user',
    use: 'Overall diameter of a size that is not in the built-in table.',
  },
  'nist-sp-811': {
    title: 'NIST Special Publication 811 (2008), Guide for the Use of the SI, Appendix B',
    standing: 'published',
    use: 'Exact inch, foot, mile, standard gravity.',
  },
  gum: {
    title: 'JCGM 100:2008, Guide to the expression of uncertainty in measurement (GUM)',
    standing: 'published',
    use: 'Law of propagation, type A and B evaluation, coverage factors, effective degrees of freedom.',
  },
  'jcgm-106': {
    title: 'JCGM 106:2012, The role of measurement uncertainty in conformity assessment',
    standing: 'from-memory',
    use: 'Probability of conformity and the three outcomes of a verdict.',
  },
  'nist-handbook': {
    title: 'NIST/SEMATECH e-Handbook of Statistical Methods',
    standing: 'published',
    use: 'Median, outliers by the modified Z-score, exponential smoothing.',
  },
  'continued-fractions': {
    title: 'Continued fractions and nearest ratios (Brocot 1861; Khinchin, Continued Fractions)',
    standing: 'published',
    use: 'Nearest ratios of bounded whole numbers: settings of scalers, gear trains.',
  },
  'line-fit-both-uncertain': {
    title:
      'York, Evensen, Martinez, De Basabe Delgado (2004), Am. J. Phys. 72, 367: straight lines with uncertainty on both axes',
    standing: 'from-memory',
    use: 'Weights and slope of a calibration line; verified with Pearson data and York weights.',
  },
  'robust-line-fit': {
    title: 'Sen (1968), J. Am. Stat. Assoc. 63, 1379: slope by the median of all pairwise slopes',
    standing: 'published',
    use: 'Robust line, which outliers do not affect.',
  },
  'wgs84-geodesics': {
    title: 'Karney (2013), Algorithms for geodesics, J. Geodesy 87, 43, on the WGS 84 ellipsoid',
    standing: 'published',
    use: 'Distance between recorded positions.',
  },
  'gps-position': {
    title:
      'GPS Standard Positioning Service Performance Standard: horizontal error of 8 m at 95 %, global average',
    standing: 'from-memory',
    use: 'Default accuracy of recorded positions.',
  },
  'shop-course': {
    title: 'Cable turns counted over 1/100 mile (52 ft 9.6 in) of floor, parts of a turn read by eye',
    standing: 'common-practice',
    use: 'Default course of a count check, and the resolution of its reading.',
  },
  'hand-timing': {
    title: 'Uncertainty of hand timing: ± 0.2 s',
    standing: 'common-practice',
    use: 'Uncertainty of a stopwatch time given without one.',
  },
  'un-r30': {
    title: 'UN Regulation No. 30 (pneumatic tires for motor vehicles), 2.17, 6.1.2, 6.1.5, Annex 5',
    standing: 'from-memory',
    use: 'Diameter and section height from the size, tolerance of a new tire, table of sizes without an aspect ratio.',
  },
  'gost-r-52899-2007': {
    title: 'GOST R 52899-2007, Table A.1 (light-truck tires)',
    standing: 'published',
    use: 'Overall diameters of light-truck sizes; listed diameters differ from the size formula by up to 1.2 %.',
  },
  'etrto-rolling-factor': {
    title:
      'ETRTO Standards Manual: rolling circumference = 3.05 (radial) or 2.99 (diagonal) x overall diameter, +1.5/-2.5 %, at 60 km/h',
    standing: 'from-memory',
    use: 'Rolling circumference from the diameter, and its uncertainty.',
  },
  'two-thirds-rule': {
    title: 'Effective rolling radius of a loaded wheel, Re = Rg - (Rg - Rh)/3 (textbook idealization)',
    standing: 'published',
    use: 'Share of tread wear in the rolling radius: two thirds to all of it.',
  },
  'eu-165-2014': {
    title:
      'Regulation (EU) No 165/2014, Annex I, and AETR Appendix 1: constants k, w and l of recording equipment',
    standing: 'published',
    use: 'Effective circumference as a mean over the driving wheels, w = pulses per turn x 1e6 / circumference.',
  },
  'taximeter-course': {
    title: 'French taximeter regulation of 1980, annex II, art. 4',
    standing: 'published',
    use: 'Level measuring course of 10 m or 20 m by tape, tire pressure as specified by the manufacturer, load of about 150 kg.',
  },
  'estimated-section-height': {
    title:
      'Section height of 0.82 (full-profile radial), 0.95 (inch diagonal) or 1.04 (inch, rims from 16 in) of the section width',
    standing: 'common-practice',
    use: 'Diameter of a size that is in no table; wide uncertainty.',
  },
  'unmarked-metric-width': {
    title: 'A section width in millimeters on a tire without a letter for the construction means radial',
    standing: 'common-practice',
    use: 'Sizes such as 155-13 and 165-400; the uncertainty covers a diagonal tire too.',
  },
  'tm-9-1829a': {
    title: 'US War Department TM 9-1829A (1944), Speedometers, tachometers and recorders',
    standing: 'published',
    use: '1000 turns a mile is 60 mph at 1000 rpm; bench readings at 10, 30 and 60 mph; causes of a wrong reading.',
  },
  'tm-5-3820-256-24-4': {
    title: 'US Army TM 5-3820-256-24-4',
    standing: 'published',
    use: 'A new final drive or tire size needs a new adapter and sometimes a new driven gear.',
  },
  'tm-5-3805-254-14p-2': {
    title: 'US Army TM 5-3805-254-14&P-2',
    standing: 'published',
    use: 'Faults of speedometer heads and cables.',
  },
  'un-r39': {
    title: 'UN Regulation No. 39 (speedometer), 5.3 and 5.4',
    standing: 'published',
    use: '0 <= V1 - V2 <= 0.1 V2 + 4 km/h for type approval.',
  },
  'un-r39-production': {
    title: 'UN Regulation No. 39, conformity of production',
    standing: 'from-memory',
    use: 'Constant part of 6 km/h instead of 4.',
  },
  'eec-75-443': {
    title: 'Council Directive 75/443/EEC, Annex II, 4.4',
    standing: 'published',
    use: 'As UN R39, at 40, 80 and 120 km/h, or 80 % of the top speed where that is below 150 km/h.',
  },
  'au-adr-18-03': {
    title: 'Australian Design Rule 18/03 and Circular 18/03-3-1',
    standing: 'published',
    use: 'As UN R39; the nominal test speed is the indicated one.',
  },
  'au-adr-18-earlier': {
    title: 'Australian Design Rule 18 before July 2006, as reported in secondary literature',
    standing: 'published',
    use: 'Within 10 % either way above 40 km/h; odometer within 4 % either way.',
  },
  'de-stvzo-57': {
    title: 'German StVZO section 57, old and present wording',
    standing: 'published',
    use: 'Over-reading of 0 to 7 % of full scale; no under-reading from 20 km/h; odometer within 4 % either way.',
  },
  'us-49-cfr-393-82': {
    title: '49 CFR 393.82',
    standing: 'published',
    use: 'Within 5 mph either way at 50 mph, commercial vehicles.',
  },
  'cn-gb-15082': {
    title: 'GB 15082, as reported in secondary literature',
    standing: 'published',
    use: 'As UN R39.',
  },
  'au-nsw-40a': {
    title: 'New South Wales vehicle rules, clause 40A',
    standing: 'published',
    use: 'Above 50 km/h, under-reading of at most 10 %.',
  },
  'aetr-appendix-1': {
    title: 'AETR, Appendix 1, III.F (recording equipment)',
    standing: 'published',
    use: 'Bench, installed and in-use limits of speed and distance, over at least 1 km.',
  },
  'uk-1986-reg-35': {
    title: 'UK Road Vehicles (Construction and Use) Regulations 1986, regulation 35',
    standing: 'published',
    use: 'Whether a speedometer is required, and in which units.',
  },
  'us-49-usc-32703': {
    title: '49 USC 32703-32704',
    standing: 'published',
    use: 'Changing an odometer: if a repair cannot preserve the mileage, set it to zero and fix a notice to the left door frame.',
  },
  'user-rule': {
    title: 'Rule given in the request',
    standing: 'user',
    use: 'Bounds on indicated minus true, as the caller gave them.',
  },
  'two-wire-bus': {
    title: 'UM10204, specification of the two-wire serial bus, 7.1 (sizing of the pull-up)',
    standing: 'published',
    use: 'Rmax = tr/(0.8473 Cb), with 0.8473 = ln(7/3) exactly; Rmin = (VDD - VOL)/IOL.',
  },
  'two-wire-bus-limits': {
    title: 'UM10204, specification of the two-wire serial bus, tables of static and dynamic characteristics',
    standing: 'from-memory',
    use: 'Rise time, clock, bus capacitance, low level and sink current of each mode; 10 pF an input.',
  },
  'lead-capacitance': {
    title: 'Capacitance of an unshielded signal lead beside its ground wire: 50 to 150 pF per meter',
    standing: 'common-practice',
    use: 'Default bus capacitance of a lead.',
  },
  'iec-60063': {
    title: 'IEC 60063, Preferred number series for resistors and capacitors (E6, E12, E24)',
    standing: 'from-memory',
    use: 'Resistor and capacitor values available.',
  },
  'astm-b258': {
    title:
      'ASTM B258, Standard nominal diameters and cross-sectional areas of AWG sizes of solid round wires',
    standing: 'published',
    use: 'd = 0.127 mm x 92^((36 - n)/39).',
  },
  'annealed-copper': {
    title: 'International annealed copper standard at 20 Cel: 0.017241 ohm mm2/m, 0.00393 per kelvin',
    standing: 'published',
    use: 'Resistance of a wire and its temperature coefficient.',
  },
  'wire-practice': {
    title:
      'Automotive wiring: resistance tolerance +8/-2 %, heat transfer 5 to 15 W/(m2 K) in still air, maximum voltage drop 3 %',
    standing: 'common-practice',
    use: 'Uncertainty of a wire given by its size only, its heating, and the default voltage drop.',
  },
  'iso-6722': {
    title: 'ISO 6722-1, Road vehicles, 60 V and 600 V single-core cables: temperature class A, 85 Cel',
    standing: 'from-memory',
    use: 'Default maximum temperature of wire insulation.',
  },
  'fuse-loading': {
    title:
      'Fuse sizing: continuous current at most 75 % of the rating, rating at most the ampacity of the wire',
    standing: 'common-practice',
    use: 'Minimum and maximum fuse rating.',
  },
  'iso-8820-3': {
    title:
      'ISO 8820-3, Road vehicles, fuse-links with tabs (blade type): ratings; 2 x rating opens within 5 s',
    standing: 'from-memory',
    use: 'Fuse ratings available; whether a short circuit at the end of a wire opens the fuse.',
  },
  'iso-16750-2': {
    title:
      'ISO 16750-2:2010, Road vehicles, electrical loads: supply voltage codes A to D and load dump of 12 V systems',
    standing: 'published',
    use: '6, 8, 9 or 10.5 V up to 16 V; load dump of 79 to 101 V behind 0.5 to 4 ohm for 40 to 400 ms.',
  },
  'iso-16750-2-from-memory': {
    title:
      'ISO 16750-2:2010, 24 V systems, suppressed load dump, jump start, reversed battery, starting profiles',
    standing: 'from-memory',
    use: 'Levels of those checks.',
  },
  'six-volt-practice': {
    title: 'Supply of a 6 V car: half of the 12 V range; jump start from a 12 V car',
    standing: 'common-practice',
    use: 'Levels of a 6 V system, which no standard covers.',
  },
  'converter-balance': {
    title: 'Power balance of a step-down converter or linear regulator',
    standing: 'derived',
    use: 'Input current Vo Io/(efficiency Vi), or Io of a linear regulator; heat as the difference.',
  },
  'comparator-network': {
    title: 'Node equation of a comparator with positive feedback',
    standing: 'derived',
    use: 'Upper and lower threshold from three resistors.',
  },
  'variable-reluctance-sensor': {
    title: 'Service data on variable-reluctance sensors: amplitude rises with speed',
    standing: 'published',
    use: 'Lowest speed = reference speed x threshold / reference amplitude.',
  },
  'sensor-input-practice': {
    title:
      'Comparator input of a sensor: corner at least twice the highest frequency, hysteresis twice the noise, amplitude margin of a factor of two',
    standing: 'common-practice',
    use: 'Default hysteresis and filter.',
  },
  'active-sensor-gap': {
    title: 'Service data on active wheel-speed sensors: air gap of 0.2 to 1.5 mm',
    standing: 'published',
    use: 'Default limits of the air gap of a sensor.',
  },
  'ring-proportions': {
    title:
      'Pulse rings: tooth and gap near 50:50, air gap at most about half the module, run-out a quarter of the air gap',
    standing: 'common-practice',
    use: 'Checks of a ring; the sensor data sheet has priority.',
  },
  'rotating-ring': {
    title:
      "W. C. Young, R. G. Budynas, Roark's Formulas for Stress and Strain: thin ring and disk rotating about their axis",
    standing: 'from-memory',
    use: 'Hoop stress density x (rim speed)^2, and the rotational speed at which it reaches the strength.',
  },
  'ring-materials': {
    title:
      'EN 10025-2 (S235JR), EN 755-2 (EN AW-6082-T6), EN 10088-2 (1.4301, the stainless steel 304): minimum yield strengths, and handbook densities',
    standing: 'from-memory',
    use: 'Strength and density of a ring of steel, aluminum or stainless steel.',
  },
  'ring-mounting-practice': {
    title:
      'Mounted pulse rings: seated anywhere within the clearance, joint within 2 % of the pitch, strength four times the hoop stress, 15 MPa across the layers of a printed ring',
    standing: 'common-practice',
    use: 'Expected eccentricity of a loose ring, default limits of a joint and of the stress, strength of printed rings.',
  },
  'periodic-field-decay': {
    title: 'Laplace equation above a periodic ring: the first harmonic falls as exp(-2 pi gap/pitch)',
    standing: 'derived',
    use: 'Modulation of the signal by run-out.',
  },
  'parked-car-temperatures': {
    title: 'Vanos et al. (2018), study of the heat in cars parked in sun',
    standing: 'published',
    use: 'Dashboards of cars parked in sun reached 69.4 Cel.',
  },
  'glass-transitions': {
    title: 'Material tables: glass transition of PLA 59, PETG 77, ABS 90 to 102, PC 150 Cel',
    standing: 'published',
    use: 'Temperature at which an enclosure softens (secondary tables; products differ).',
  },
  'service-temperatures': {
    title:
      'Material data: service temperatures of plastics, of sheet of aluminum 5052 and 6061, zinc-coated and stainless steel, and of die-casting alloys EN AC-44300 and ZP3; glass transition of ASA, 100 Cel',
    standing: 'from-memory',
    use: 'Temperature for years of use of an enclosure (products differ).',
  },
  'enclosure-practice': {
    title:
      'Small enclosures in cars: 10 K under the glass transition, 5 to 15 W/(m2 K) in still air, about 100 Cel in an engine compartment, 60 to 90 Cel on a dashboard in sun on a hot day',
    standing: 'common-practice',
    use: 'Margin, self-heating, and default ambient temperatures.',
  },
  'satellite-speed': {
    title: 'NAVSTAR GPS User Equipment Introduction, 3.3: velocity within 0.2 m/s per axis, 95 %',
    standing: 'published',
    use: 'Uncertainty of a satellite speed; it takes the horizontal part only, so it under-reads on slopes.',
  },
  'pick-up-practice': {
    title:
      'Typical values of pick-ups, displays, receivers and motor-driven heads, each shown with the answer',
    standing: 'common-practice',
    use: 'Default assumptions; each can be given in the request.',
  },
  'gear-approximation': {
    title:
      'A. Brocot, Calcul des rouages par approximation (1861): continued fractions and the tree of mediants',
    standing: 'published',
    use: 'Gear trains from the factors of fractions near a ratio; convergents of 191/23.',
  },
  'hunting-tooth': {
    title: 'Hunting tooth: gears with coprime tooth counts wear evenly (machine-design textbooks)',
    standing: 'from-memory',
    use: 'Gear pairs that spread their wear over all teeth.',
  },
  'non-negative-least-squares': {
    title: 'C. L. Lawson and R. J. Hanson, Solving Least Squares Problems (1974), chapter 23',
    standing: 'from-memory',
    use: 'Non-negative least squares: the drag of a part is never below zero.',
  },
  'drag-attribution': {
    title: 'Torque of an assembly = sum of the drags of its parts + assembly term; possible causes of each',
    standing: 'common-practice',
    use: 'Attribution of drag to parts, causes of a large assembly term, default uncertainty of a torque.',
  },
  'half-split-testing': {
    title: 'US Army Signal School, subcourse IT0338: troubleshooting by half-split',
    standing: 'published',
    use: 'A test in the middle of a chain halves the remaining links.',
  },
  'information-entropy': {
    title: 'C. E. Shannon, A Mathematical Theory of Communication (1948), sections 6 and 12',
    standing: 'from-memory',
    use: 'Entropy of the probabilities, and the expected information gain of a test.',
  },
  'fault-priors': {
    title: 'How often each kind of link fails, and with which symptoms',
    standing: 'common-practice',
    use: 'Default weights of links and probabilities of symptoms; the caller may give other weights.',
  },
  'fault-tests': {
    title: 'Duration, sensitivity and false-alarm rate of common tests of a speedometer drive',
    standing: 'common-practice',
    use: 'Ranking of tests; the caller may give other figures and add tests.',
  },
  'nist-ewma': {
    title: 'NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4, EWMA control charts',
    standing: 'published',
    use: 'The recursion y += a (x - y), its start, and its noise reduction, sqrt(a/(2 - a)).',
  },
  'normal-order-statistics': {
    title: 'Variances of order statistics of normal samples (tables in the literature since 1949)',
    standing: 'from-memory',
    use: 'Noise after a median of 3 or 5; the covariances of overlapping medians are integrated from the definition.',
  },
  'mersenne-twister': {
    title:
      'M. Matsumoto, T. Nishimura, Mersenne Twister, ACM TOMACS 8 (1998); ISO/IEC 14882, [rand.predef] (mt19937)',
    standing: 'from-memory',
    use: 'Generator of simulated noise: the same seed gives the same numbers.',
  },
  'synchronous-average': {
    title: 'Synchronous (time-domain) averaging of a signal over the turns of a shaft, textbook method',
    standing: 'from-memory',
    use: 'Errors of the gaps of a ring from a log: errors that repeat with each turn remain, all others average out.',
  },
  'stored-part': {
    title: 'Part recorded by a user',
    standing: 'user',
    use: 'Interfaces and data of parts, as given by their author.',
  },
  'stored-fit': {
    title: 'Fit report recorded by a user',
    standing: 'user',
    use: 'Whether parts fit, directly or with modification, and the evidence.',
  },
  'iso-261': {
    title: 'ISO 261, metric screw threads: coarse pitches',
    standing: 'from-memory',
    use: 'Pitch of a metric thread without a stated pitch.',
  },
  'asme-b1-1': {
    title: 'ASME B1.1, unified inch screw threads: numbered sizes',
    standing: 'from-memory',
    use: 'Diameter of a numbered size, (0.060 + 0.013 n) in.',
  },
  'engaged-turns': {
    title: 'Five turns of a thread carry the load of a cable or housing nut',
    standing: 'common-practice',
    use: 'A difference of pitch adds up over the turns engaged.',
  },
  'evidence-weights': {
    title: 'Weights of evidence: road-tested 1, trial-fitted 0.75, measured 0.5, literature 0.5, hearsay 0.1',
    standing: 'common-practice',
    use: 'Weight of a fit report, in trials.',
  },
  'rule-of-succession': {
    title: 'Laplace, Essai philosophique sur les probabilités (1814): rule of succession',
    standing: 'from-memory',
    use: 'Support of a fit from reports for and against, each weighted by its evidence.',
  },
  'monotone-cubic': {
    title:
      'M. Steffen (1990), Astron. Astrophys. 239, 443; F. N. Fritsch, R. E. Carlson (1980), SIAM J. Numer. Anal. 17, 238: monotone piecewise cubics',
    standing: 'from-memory',
    use: 'Pointer angle between the measured points.',
  },
  'scale-unit-length': {
    title:
      'M. S. Sanders, E. J. McCormick, Human Factors in Engineering and Design: 1.3 to 1.8 mm between scale marks read at 0.7 m',
    standing: 'from-memory',
    use: 'Minimum spacing of dial marks.',
  },
  'dial-proportions': {
    title: 'Lengths of marks, sizes of numbers, minimum gap of 0.6 mm between printed marks',
    standing: 'common-practice',
    use: 'Layout of a printed scale.',
  },
  'un-r39-dial': {
    title:
      'UN Regulation No. 39 (speedometer), graduation of the dial: steps of 1, 2, 5 or 10, numbers at most 20 apart, 30 above 200 km/h',
    standing: 'from-memory',
    use: 'Caution for steps outside the regulation.',
  },
  'permanent-magnet-motor': {
    title:
      'Equations of the permanent-magnet DC motor: U = k w + I R, M = k (I - I0) (textbooks of electrical machines)',
    standing: 'from-memory',
    use: 'Speed, torque, voltage and current of a motor that drives a head.',
  },
  'motor-practice': {
    title:
      'Motors on mechanical heads: 1.5 times the torque needed, twice the torque in the cold, 90 % efficiency of a gear, 30 steps a second, steps of 1 mph at most, 20 to 60 Cel',
    standing: 'common-practice',
    use: 'Default limits and surroundings; each can be given in the request.',
  },
  'iec-60085': {
    title: 'IEC 60085, Electrical insulation, thermal classes: class 105',
    standing: 'from-memory',
    use: 'Default maximum temperature of the winding of a motor.',
  },
  'filtered-display': {
    title:
      'Luminance of a lit display behind a filter: light of the display passes once, ambient light twice',
    standing: 'derived',
    use: 'Contrast in ambient light, and the transmittances that keep it.',
  },
  'fresnel-reflection': {
    title: 'Reflection of light at a surface, Fresnel: ((n - 1)/(n + 1))^2, 0.04 for n = 1.5',
    standing: 'from-memory',
    use: 'Default reflectance of the front of a filter of glass or acrylic without coating.',
  },
  'iso-15008': {
    title:
      'ISO 15008, Road vehicles, in-vehicle visual presentation: contrast 5:1 at night, 3:1 in diffuse daylight, 2:1 in sunlight of 45 klx; characters of 20 minutes of arc, 16 acceptable, 12 minimum',
    standing: 'from-memory',
    use: 'Default limits of contrast and character height, and illuminance in sunlight.',
  },
  'night-luminance': {
    title: 'Lit characters at night: 1 to 15 cd/m2 behind the filter, surroundings of 5 lx at most',
    standing: 'common-practice',
    use: 'Default limits of the dimming.',
  },
} as const satisfies Record<string, Source>

export type SourceId = keyof typeof SOURCES

/**
 * Source ids without duplicates, in the order of the registry, so that a set always has the same order.
 *
 * @param ids - Ids in any order, duplicates allowed
 * @returns Each id once
 * @see docs/architecture.md, "Uncertainty and sources"
 * @example orderedSources(['gum', 'definitions', 'gum']) // ["definitions","gum"]
 */
export function orderedSources(ids: Iterable<SourceId>): SourceId[] {
  const ordered: SourceId[] = []
  for (const id of ids) {
    // Insertion sort: the lists are short and nearly sorted.
    let place = ordered.length
    while (place > 0 && RANK[ordered[place - 1]!] > RANK[id]) place--
    if (ordered[place - 1] === id) continue
    if (place === ordered.length) ordered.push(id)
    else ordered.splice(place, 0, id)
  }
  return ordered
}

const RANK = Object.fromEntries(Object.keys(SOURCES).map((id, index) => [id, index])) as Record<
  SourceId,
  number
>
