import { SOURCES, type SourceId, type Standing } from '../src/domain/measure/sources.js'

/** How docstrings cite the sources of the table. */
const CITED: ReadonlyArray<readonly [RegExp, SourceId]> = [
  [/JCGM 100:2008/, 'gum'],
  [/JCGM 106:2012/, 'jcgm-106'],
  [/NIST SP 811/, 'nist-sp-811'],
  [/NIST\/SEMATECH e-Handbook 6\.3\.2\.4/, 'nist-ewma'],
  [/NIST\/SEMATECH e-Handbook (?!6\.3\.2\.4)/, 'nist-handbook'],
  [/EU 165\/2014/, 'eu-165-2014'],
  [/AETR,? Appendix 1/, 'aetr-appendix-1'],
  [/TM 9-1829A/, 'tm-9-1829a'],
  [/TM 5-3820-256-24-4/, 'tm-5-3820-256-24-4'],
  [/TM 5-3805-254-14&P-2/, 'tm-5-3805-254-14p-2'],
  [/UN R30/, 'un-r30'],
  [/UN R39/, 'un-r39'],
  [/75\/443\/EEC/, 'eec-75-443'],
  [/StVZO 57/, 'de-stvzo-57'],
  [/49 CFR 393\.82/, 'us-49-cfr-393-82'],
  [/49 USC 32703/, 'us-49-usc-32703'],
  [/GOST R 52899-2007/, 'gost-r-52899-2007'],
  [/ETRTO/, 'etrto-rolling-factor'],
  [/taximeter regulation/, 'taximeter-course'],
  [/Brocot/, 'gear-approximation'],
  [/Khinchin/, 'continued-fractions'],
  [/York/, 'line-fit-both-uncertain'],
  [/Sen \(1968\)/, 'robust-line-fit'],
  [/Karney/, 'wgs84-geodesics'],
  [/ASTM B258/, 'astm-b258'],
  [/copper standard/, 'annealed-copper'],
  [/IEC 60063/, 'iec-60063'],
  [/ISO 8820-3/, 'iso-8820-3'],
  [/ISO 16750-2/, 'iso-16750-2'],
  [/ISO 15008/, 'iso-15008'],
  [/IEC 60085/, 'iec-60085'],
  [/permanent-magnet DC motor/, 'permanent-magnet-motor'],
  [/Fresnel/, 'fresnel-reflection'],
  [/ISO 261/, 'iso-261'],
  [/ASME B1\.1/, 'asme-b1-1'],
  [/UM10204/, 'two-wire-bus'],
  [/Vanos/, 'parked-car-temperatures'],
  [/NAVSTAR GPS/, 'satellite-speed'],
  [/service data on active sensors/, 'active-sensor-gap'],
  [/service data(?! on active)/, 'variable-reluctance-sensor'],
  [/glass transitions/, 'glass-transitions'],
  [/Roark/, 'rotating-ring'],
  [/hunting tooth/, 'hunting-tooth'],
  [/Lawson and Hanson/, 'non-negative-least-squares'],
  [/IT0338/, 'half-split-testing'],
  [/Shannon/, 'information-entropy'],
  [/normal order statistics/, 'normal-order-statistics'],
  [/mt19937|Matsumoto/, 'mersenne-twister'],
  [/synchronous averaging/, 'synchronous-average'],
  [/Steffen/, 'monotone-cubic'],
  [/Rule of succession/, 'rule-of-succession'],
]

/** Standings that a citation states in words. */
const STATED: ReadonlyArray<readonly [RegExp, Standing]> = [
  [/common practice/i, 'common-practice'],
  [/from memory|textbook|Bellman|Bayes|Euclid|Faraday|Gauss-Markov|Stern|StRD|Van Benthem/, 'from-memory'],
  [/IEEE 754|ECMA-262|fundamental theorem|dynamic programming|index of dispersion/, 'from-memory'],
  [/derived|definition|geometry|arithmetic|by definition|principle of|solved for/i, 'derived'],
]

/** Standing without an external source: own choices, and functions composed of others that cite theirs. */
const WITHIN = /^docs\/|a choice of this service|the functions it is made of|names come from the caller/

/** The basis of a citation. */
export interface Citation {
  readonly sources: readonly SourceId[]
  readonly standings: readonly Standing[]
}

/** @returns undefined when the words match nothing that is known: the citation then needs a source or a standing */
export function citationOf(words: string): Citation | undefined {
  const byId = [...words.matchAll(/'([a-z0-9-]+)'/g)].map(([, id]) => id!).filter((id) => id in SOURCES)
  const byName = CITED.filter(([pattern]) => pattern.test(words)).map(([, id]) => id)
  const sources = [...new Set([...(byId as SourceId[]), ...byName])]
  const stated = STATED.filter(([pattern]) => pattern.test(words)).map(([, standing]) => standing)
  const standings = [...new Set([...sources.map((id) => SOURCES[id].standing), ...stated])]
  return standings.length === 0 && !WITHIN.test(words) ? undefined : { sources, standings }
}
