import { Type } from '@sinclair/typebox'
import { calculationAnswer } from '../answers.js'
import { assumptions } from '../assumptions.js'
import { Capacitance, Current, Frequency, Power, Resistance, Span, Time, Voltage } from '../measures.js'
import { closed, listOf, named, ref } from '../named-shapes.js'
import { choice, count, plain } from '../plain-values.js'
import {
  CapacitanceIn,
  CapacitancePerLengthIn,
  CurrentIn,
  LeadLengthIn,
  ResistanceIn,
  RiseTimeIn,
  VoltageIn,
} from './quantities.js'
import { budget, Conformity, probability } from './verdicts.js'

const BusModeName = choice(['standard', 'fast', 'fast-plus'], {
  description: 'Mode of the bus: 100 kHz, 400 kHz, 1 MHz.',
})

export const BusLoad = named(
  'BusLoad',
  Type.Union(
    [
      Type.Object(
        {
          capacitance: ref(
            CapacitanceIn,
            'Measured capacitance of one line with all devices connected.',
            'bus: capacitance',
          ),
        },
        { ...closed, title: 'by the measured capacitance of the whole bus' },
      ),
      Type.Object(
        {
          length: ref(LeadLengthIn, 'Length of the lead.', 'bus: length of the lead'),
          capacitancePerLength: Type.Optional(
            ref(
              CapacitancePerLengthIn,
              'Capacitance of the lead per length, one line against ground; left out: 100 pF/m, from 50 to 150.',
              'bus: capacitance of the lead per length',
            ),
          ),
          devices: Type.Optional(
            count({ minimum: 0, maximum: 128, description: 'Inputs on the bus; left out: 2.' }),
          ),
          capacitancePerDevice: Type.Optional(
            ref(
              CapacitanceIn,
              'Input capacitance of one device; left out: 10 pF, the most that an input may have.',
              'bus: capacitance of an input',
            ),
          ),
        },
        { ...closed, title: 'by the lead and the inputs on it' },
      ),
    ],
    { description: 'What loads the bus: give exactly one of capacitance, length.' },
  ),
)

export const PullUpRequest = named(
  'PullUpRequest',
  Type.Object(
    {
      supply: ref(VoltageIn, 'Supply voltage of the bus, to which the pull-ups go.', 'supply'),
      bus: ref(BusLoad, 'Capacitive load of the bus, by its capacitance or by its lead.'),
      mode: Type.Optional(BusModeName),
      riseTime: Type.Optional(
        ref(
          RiseTimeIn,
          'Longest rise time from 30 to 70 % of the supply; left out: that of the mode.',
          'rise time',
        ),
      ),
      lowLevel: Type.Optional(
        ref(
          VoltageIn,
          'Highest voltage that counts as low; left out: 0.4 V, or a fifth of a supply of 2 V and less.',
          'low level',
        ),
      ),
      sinkCurrent: Type.Optional(
        ref(
          CurrentIn,
          'Current that an output can sink at lowLevel; left out: that of the mode.',
          'sink current',
        ),
      ),
      tolerancePercent: Type.Optional(
        plain({
          minimum: 0,
          maximum: 20,
          description: 'Tolerance of the resistor that is recommended [%]; left out: 1.',
        }),
      ),
      fitted: Type.Optional(
        ref(
          ResistanceIn,
          'Pull-up resistance of the bus as built, all resistors in parallel, to be checked. Left out: the answer only recommends one.',
          'fitted pull-up',
        ),
      ),
    },
    {
      ...closed,
      description:
        'A two-wire bus. Mode left out: fast. Rise time, low level and sink current left out: those of the mode. fitted: the pull-ups that are there, in parallel.',
      examples: [
        { supply: { v: 5 }, mode: 'fast', bus: { capacitance: { pf: 200, plusMinus: 20 } } },
        {
          supply: { v: 3.3 },
          mode: 'fast',
          bus: { length: { m: 0.6 } },
          fitted: { ohm: 2200, plusMinus: 110 },
        },
        { supply: { v: 5 }, mode: 'fast', bus: { length: { m: 4, plusMinus: 0.2 }, devices: 3 } },
      ],
    },
  ),
)

const BusModeRow = named(
  'BusModeRow',
  Type.Object(
    {
      mode: BusModeName,
      clock: ref(Frequency, 'Highest clock rate of the mode.'),
      riseTime: ref(Time, 'Longest rise time that the mode allows.'),
      feasible: Type.Boolean({ description: 'Whether a pull-up suits both limits.' }),
      min: ref(Resistance, 'Smallest resistance: below it an output cannot pull the line low.'),
      max: ref(Resistance, 'Largest resistance: above it the line rises too slowly.'),
      longestLead: Type.Optional(
        ref(
          Span,
          'Longest lead that leaves a usable resistance; absent when the bus was given by its capacitance, or no lead is short enough.',
        ),
      ),
    },
    {
      ...closed,
      description:
        'What each mode of the bus would need: the mode asked for and slower ones with the output at hand, faster ones with the output that they ask for.',
    },
  ),
)

const PullUpRemedy = named(
  'PullUpRemedy',
  Type.Object(
    {
      kind: choice(
        [
          'shorten-lead',
          'less-capacitance',
          'slower-mode',
          'stronger-driver',
          'lower-supply',
          'separate-segments',
        ],
        { description: 'What to change.' },
      ),
      text: Type.String({ description: 'How, for people.' }),
      lead: Type.Optional(ref(Span, 'Length of the lead after the change; only with shorten-lead.')),
      shortenBy: Type.Optional(ref(Span, 'How much to take off the lead; only with shorten-lead.')),
      capacitance: Type.Optional(
        ref(Capacitance, 'Bus capacitance to reach; only with less-capacitance and separate-segments.'),
      ),
      mode: Type.Optional(BusModeName),
      sinkCurrent: Type.Optional(
        ref(Current, 'Current that the output must sink; only with stronger-driver.'),
      ),
      supply: Type.Optional(ref(Voltage, 'Supply voltage after the change; only with lower-supply.')),
    },
    {
      ...closed,
      description:
        'A change after which a resistor that can be bought is proven to keep both limits, for a bus without a range. A request with its lead, capacitance, mode, sinkCurrent or supply in place of its own, and without riseTime where the mode changes, recommends that resistor.',
    },
  ),
)

const PullUpChoice = named(
  'PullUpChoice',
  Type.Object(
    {
      resistance: ref(Resistance, 'Resistance of the pull-up.'),
      riseTime: ref(Time, 'Rise time from 30 to 70 % of the supply with it.'),
      lowCurrent: ref(Current, 'Current through it while the line is low.'),
      power: ref(Power, 'Power in it while the line is low.'),
      probability,
      result: Conformity,
    },
    { ...closed, description: 'One resistor on this bus, and whether it keeps both limits.' },
  ),
)

export const PullUpAnswer = calculationAnswer('PullUpAnswer', 'Pull-up of a two-wire bus.', {
  feasible: Type.Boolean({ description: 'Whether the range holds any resistance.' }),
  min: ref(Resistance, 'Smallest resistance that the outputs can pull low.'),
  max: ref(Resistance, 'Largest resistance with which the line rises fast enough.'),
  busCapacitance: ref(Capacitance, 'Capacitance of one line.'),
  capacitanceLimit: ref(Capacitance, 'Highest capacitance that the mode specifies.'),
  modes: listOf(BusModeRow, 3, 'Every mode, slowest first.'),
  remedies: listOf(PullUpRemedy, 6, 'What to do when there is no range; empty when there is one.'),
  budget,
  assumptions,
  recommended: Type.Optional(
    ref(PullUpChoice, 'The nearest resistor of the E24 series to choose; absent when there is no range.'),
  ),
  fitted: Type.Optional(
    ref(PullUpChoice, 'The resistor of the bus as built, checked; absent if none was given.'),
  ),
})
