/**
 * Where formulas and table values come from, each honest about its standing:
 * `published` (read for this project), `from-memory` (published, quoted from memory: check before relying on the last
 * digit), `common-practice` (used in the trade, no source), `derived` (follows from definitions by arithmetic shown in
 * the docs), `user` (a row that a user entered), `measured` (a reading that the caller gave).
 */
export type Standing = 'published' | 'from-memory' | 'common-practice' | 'derived' | 'user' | 'measured'

export interface Source {
  readonly title: string
  readonly standing: Standing
  readonly use: string
}

/** A source with its id, and any field of its kind: the registry that `GET /v1/sources` shows. */
export const SOURCES = {
  definitions: {
    title: 'Definitions of the units and of the quantities, and arithmetic on them',
    standing: 'derived',
    use: 'Exact conversions, turns and pulses per distance, timer arithmetic.',
  },
  'caller-reading': {
    title: 'Reading or figure given in the request',
    standing: 'measured',
    use: 'Taken as given, with the uncertainty given for it.',
  },
  'stored-tire-size': {
    title: 'Tire size row stored by a user of this instance',
    standing: 'user',
    use: 'Overall diameter of a size that the built-in table does not hold.',
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
    use: 'Weights and slope of a calibration line; checked against the data of Pearson with the weights of York.',
  },
  'robust-line-fit': {
    title: 'Sen (1968), J. Am. Stat. Assoc. 63, 1379: slope by the median of all pairwise slopes',
    standing: 'published',
    use: 'The line that outlying readings do not pull.',
  },
  'wgs84-geodesics': {
    title: 'Karney (2013), Algorithms for geodesics, J. Geodesy 87, 43, on the WGS 84 ellipsoid',
    standing: 'published',
    use: 'Length between recorded positions.',
  },
  'gps-position': {
    title:
      'GPS Standard Positioning Service Performance Standard: horizontal error of 8 m at 95 %, global average',
    standing: 'from-memory',
    use: 'Accuracy of a recorded position when none is given.',
  },
  'shop-course': {
    title: 'Cable turns counted over 1/100 mile (52 ft 9.6 in) of floor, parts of a turn read by eye',
    standing: 'common-practice',
    use: 'Default course of a count check, and how finely its turns are read.',
  },
  'hand-timing': {
    title: 'Hand timing good to 0.2 s either way',
    standing: 'common-practice',
    use: 'Uncertainty of a stopwatch time that was given without one.',
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
    use: 'Share of tread wear that reaches the rolling radius: between two thirds and all of it.',
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
    use: 'Measuring course of 10 m or 20 m by tape, level, inflated as the maker says, about 150 kg of load.',
  },
  'estimated-section-height': {
    title:
      'Section height of 0.82 (full-profile radial), 0.95 (inch diagonal) or 1.04 (inch, rims from 16 in) of the section width',
    standing: 'common-practice',
    use: 'Diameter of a size that no table holds; wide uncertainty.',
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
    use: 'Constant part of 6 km/h in place of 4.',
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
    use: '10 % either way above 40 km/h; odometer 4 % either way.',
  },
  'de-stvzo-57': {
    title: 'German StVZO section 57, old and present wording',
    standing: 'published',
    use: '0 to 7 % of full scale over; never under from 20 km/h; odometer 4 % either way.',
  },
  'us-49-cfr-393-82': {
    title: '49 CFR 393.82',
    standing: 'published',
    use: '5 mph either way at 50 mph, commercial vehicles.',
  },
  'cn-gb-15082': {
    title: 'GB 15082, as reported in secondary literature',
    standing: 'published',
    use: 'As UN R39.',
  },
  'au-nsw-40a': {
    title: 'New South Wales vehicle rules, clause 40A',
    standing: 'published',
    use: 'Above 50 km/h not more than 10 % below the actual speed.',
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
    use: 'Changing an odometer; a repair that cannot keep the mileage sets zero and fixes a notice to the left door frame.',
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
    title: 'Capacitance of an unshielded signal lead beside its ground wire: 50 to 150 pF a meter',
    standing: 'common-practice',
    use: 'Bus capacitance of a lead that was not measured.',
  },
  'iec-60063': {
    title: 'IEC 60063, Preferred number series for resistors and capacitors (E6, E12, E24)',
    standing: 'from-memory',
    use: 'Which resistor and capacitor values can be bought.',
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
    use: 'Resistance of a wire, and how it rises with temperature.',
  },
  'wire-practice': {
    title:
      'Automotive wiring: stranding and make +8/-2 % of resistance, heat given off 5 to 15 W/(m2 K) in still air, drop of 3 % at most',
    standing: 'common-practice',
    use: 'Uncertainty of a wire known by its size only, its heating, and the drop that is usually allowed.',
  },
  'iso-6722': {
    title: 'ISO 6722-1, Road vehicles, 60 V and 600 V single-core cables: temperature class A, 85 Cel',
    standing: 'from-memory',
    use: 'Temperature that the insulation of a wire stands where none is given.',
  },
  'fuse-loading': {
    title: 'A fuse carries at most 75 % of its rating for long, and its rating is at most that of the wire',
    standing: 'common-practice',
    use: 'Smallest and largest fuse.',
  },
  'iso-8820-3': {
    title:
      'ISO 8820-3, Road vehicles, fuse-links with tabs (blade type): ratings; 2 x rating opens within 5 s',
    standing: 'from-memory',
    use: 'Which fuse ratings can be bought; whether a short circuit at the end of a wire opens the fuse.',
  },
  'iso-16750-2': {
    title:
      'ISO 16750-2:2010, Road vehicles, electrical loads: supply voltage codes A to D and load dump of 12 V systems',
    standing: 'published',
    use: '6, 8, 9 or 10.5 V up to 16 V; load dump of 79 to 101 V behind 0.5 to 4 ohm for 40 to 400 ms.',
  },
  'iso-16750-2-from-memory': {
    title:
      'ISO 16750-2:2010, the same for 24 V systems, suppressed load dump, jump start, reversed battery, starting profiles',
    standing: 'from-memory',
    use: 'Levels of those checks.',
  },
  'six-volt-practice': {
    title: 'Supply of a 6 V car: half of the 12 V range; jump start from a 12 V car',
    standing: 'common-practice',
    use: 'Levels of a system that no standard covers.',
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
      'Comparator input of a sensor: corner at least twice the highest frequency, hysteresis twice the noise, half the amplitude in hand',
    standing: 'common-practice',
    use: 'Choice of the hysteresis and of the filter where the caller leaves it open.',
  },
  'active-sensor-gap': {
    title: 'Service data on active wheel-speed sensors: air gap of 0.2 to 1.5 mm',
    standing: 'published',
    use: 'Limits of the air gap of a sensor whose own are not given.',
  },
  'ring-proportions': {
    title:
      'Pulse rings: tooth and gap near 50:50, air gap at most about half the module, run-out a quarter of the air gap',
    standing: 'common-practice',
    use: 'Checks of a ring; a sensor maker may say otherwise.',
  },
  'periodic-field-decay': {
    title: 'Laplace equation above a periodic ring: the first harmonic falls as exp(-2 pi gap/pitch)',
    standing: 'derived',
    use: 'How much run-out modulates the signal.',
  },
  'parked-car-temperatures': {
    title: 'Vanos et al. (2018), study of the heat in cars parked in sun',
    standing: 'published',
    use: 'Dashboards of cars parked in sun reached 69.4 Cel.',
  },
  'glass-transitions': {
    title: 'Material tables: glass transition of PLA 59, PETG 77, ABS 90 to 102, PC 150 Cel',
    standing: 'published',
    use: 'Temperature at which an enclosure goes soft (secondary tables; makes differ).',
  },
  'enclosure-practice': {
    title:
      'Small enclosures in cars: 10 K under the glass transition, 5 to 15 W/(m2 K) in still air, about 100 Cel in an engine compartment',
    standing: 'common-practice',
    use: 'Margin, heating by the parts inside, and places that were not measured.',
  },
  'satellite-speed': {
    title: 'NAVSTAR GPS User Equipment Introduction, 3.3: velocity within 0.2 m/s per axis, 95 %',
    standing: 'published',
    use: 'Uncertainty of a satellite speed; it takes the horizontal part only, so it under-reads on slopes.',
  },
  'pick-up-practice': {
    title:
      'Usual figures of pick-ups, displays, receivers and motor-driven heads, each shown with the answer',
    standing: 'common-practice',
    use: 'Assumptions where the caller gives none; each can be given in the request.',
  },
  'gear-approximation': {
    title:
      'A. Brocot, Calcul des rouages par approximation (1861): continued fractions and the tree of mediants',
    standing: 'published',
    use: 'Trains from the factors of fractions near a ratio; convergents of 191/23.',
  },
  'hunting-tooth': {
    title:
      'Hunting tooth: wheels whose tooth counts are prime to each other wear evenly (machine-design textbooks)',
    standing: 'from-memory',
    use: 'Which pairs of a train share their wear over all teeth.',
  },
  'non-negative-least-squares': {
    title: 'C. L. Lawson and R. J. Hanson, Solving Least Squares Problems (1974), chapter 23',
    standing: 'from-memory',
    use: 'Least squares with no unknown below zero: no part can drive the others.',
  },
  'drag-attribution': {
    title:
      'Torque of an assembly = sum of the drags of its parts + what only the assembly shows; what each points at',
    standing: 'common-practice',
    use: 'Attribution of drag to parts, causes of a large assembly term, uncertainty of a torque that states none.',
  },
  'half-split-testing': {
    title: 'US Army Signal School, subcourse IT0338: troubleshooting by half-split',
    standing: 'published',
    use: 'Testing a chain in its middle halves the links that are left.',
  },
  'information-entropy': {
    title: 'C. E. Shannon, A Mathematical Theory of Communication (1948), sections 6 and 12',
    standing: 'from-memory',
    use: 'Entropy of what is still unknown, and what a test is expected to take off it.',
  },
  'fault-priors': {
    title: 'How often each kind of link is the one at fault, and which symptoms go with it',
    standing: 'common-practice',
    use: 'Usual weights of links and symptoms; the caller may give his own.',
  },
  'fault-tests': {
    title: 'Minutes, sensitivity and false-alarm rate of usual tests of a speedometer drive',
    standing: 'common-practice',
    use: 'Ranking of tests; the caller may give his own figures and tests.',
  },
  'nist-ewma': {
    title: 'NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4, EWMA control charts',
    standing: 'published',
    use: 'The recursion y += a (x - y), its start, and the noise that it leaves, sqrt(a/(2 - a)).',
  },
  'normal-order-statistics': {
    title: 'Variances of order statistics of normal samples (tables in the literature since 1949)',
    standing: 'from-memory',
    use: 'Noise left by a median of 3 or 5; the covariances of overlapping medians are integrated from the definition.',
  },
  'mersenne-twister': {
    title:
      'M. Matsumoto, T. Nishimura, Mersenne Twister, ACM TOMACS 8 (1998); ISO/IEC 14882, [rand.predef] (mt19937)',
    standing: 'from-memory',
    use: 'The generator of simulated noise: the same start gives the same numbers.',
  },
  'synchronous-average': {
    title: 'Synchronous (time-domain) averaging of a signal over the turns of a shaft, textbook method',
    standing: 'from-memory',
    use: 'Errors of the gaps of a ring from a log: what repeats with the turn stays, the rest averages out.',
  },
  'stored-part': {
    title: 'Part recorded by a user of this instance',
    standing: 'user',
    use: 'Interfaces and figures of parts, as their author gave them.',
  },
  'stored-fit': {
    title: 'Fit report recorded by a user of this instance',
    standing: 'user',
    use: 'What was found to fit, with work or not at all, and on what evidence.',
  },
  'iso-261': {
    title: 'ISO 261, metric screw threads: coarse pitches',
    standing: 'from-memory',
    use: 'Pitch of a metric thread whose designation states none.',
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
    use: 'What a fit report weighs, in trials.',
  },
  'rule-of-succession': {
    title: 'Laplace, Essai philosophique sur les probabilités (1814): rule of succession',
    standing: 'from-memory',
    use: 'Support of a fit from reports for and against, each weighed by its evidence.',
  },
  'monotone-cubic': {
    title:
      'M. Steffen (1990), Astron. Astrophys. 239, 443; F. N. Fritsch, R. E. Carlson (1980), SIAM J. Numer. Anal. 17, 238: monotone piecewise cubics',
    standing: 'from-memory',
    use: 'Angle of the pointer between the points at which it was measured.',
  },
  'scale-unit-length': {
    title:
      'M. S. Sanders, E. J. McCormick, Human Factors in Engineering and Design: 1.3 to 1.8 mm between scale marks read at 0.7 m',
    standing: 'from-memory',
    use: 'How close the marks of a dial may stand.',
  },
  'dial-proportions': {
    title: 'Lengths of marks, sizes of numbers, least gap of 0.6 mm between printed marks',
    standing: 'common-practice',
    use: 'Look of a printed scale.',
  },
  'un-r39-dial': {
    title:
      'UN Regulation No. 39 (speedometer), graduation of the dial: steps of 1, 2, 5 or 10, numbers at most 20 apart, 30 above 200 km/h',
    standing: 'from-memory',
    use: 'Remark on steps that the regulation does not have.',
  },
} as const satisfies Record<string, Source>

export type SourceId = keyof typeof SOURCES

/**
 * Source ids without repeats, in the order of the registry: the same set always reads the same.
 *
 * @param ids - Ids in any order, repeats allowed
 * @returns Each id once
 * @see docs/architecture.md, "Uncertainty and sources"
 * @example orderedSources(['gum', 'definitions', 'gum']) // ["definitions","gum"]
 */
export function orderedSources(ids: Iterable<SourceId>): SourceId[] {
  const ordered: SourceId[] = []
  for (const id of ids) {
    // By insertion: there are few, and they come nearly in order.
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
