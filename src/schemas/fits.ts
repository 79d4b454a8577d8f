import { type Static, Type } from '@sinclair/typebox'
import { calculationAnswer } from './answers.js'
import { listOf, named, ref, shape } from './named-shapes.js'
import { PartSummary } from './part-candidates.js'
import { PartKindChoice, shared } from './parts.js'
import { choice, count, plainOut } from './plain-values.js'
import { Next, PAGE_QUERY } from './stored.js'
import { form, lineText, longText } from './texts.js'

export const PartId = Type.String({
  minLength: 36,
  maxLength: 36,
  pattern: form(
    '^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$',
    'the id of a part, as GET /v1/parts gives it',
  ),
  description: 'Id of a part (UUID version 7, RFC 9562, lower case).',
  examples: ['01890a5d-ac96-774b-bcce-b302099a8057'],
})

const Year = (description: string) => count({ minimum: 1880, maximum: 2200, description })

export const FitVehicle = shape('FitVehicle', 'The vehicles that a report is about.', {
  make: lineText(100, 'Make of the vehicle.', { examples: ['Fennimark'] }),
  model: lineText(100, 'Model of the vehicle.', { examples: ['Dorsel Two'] }),
  yearFrom: Type.Optional(Year('First year of manufacture that is meant; left out: open.')),
  yearTo: Type.Optional(Year('Last year of manufacture that is meant; left out: open.')),
  variant: Type.Optional(lineText(100, 'Engine, body or gearbox, where it matters.')),
})

export const FitResult = choice(['fits', 'fits-with-work', 'does-not-fit'], {
  description: 'What was found.',
})

export const FitEvidence = choice(['road-tested', 'trial-fitted', 'measured', 'literature', 'hearsay'], {
  description: 'How it was found, best first.',
})

const reportFields = {
  result: FitResult,
  evidence: FitEvidence,
  work: Type.Optional(longText(2000, 'What had to be done to make it fit, or what prevents it.')),
  author: Type.Optional(lineText(100, 'Author of the report. Left out: the account of the key.')),
  date: Type.Optional(
    Type.String({
      format: 'date',
      maxLength: 10,
      description: 'When it was found (YYYY-MM-DD); left out: today.',
      examples: ['2026-05-17'],
    }),
  ),
}

/** A fit report as a user makes it. */
export const FitInput = named(
  'FitInput',
  Type.Union(
    [
      Type.Object(
        { part: PartId, vehicle: ref(FitVehicle, 'The vehicles that the report is about.'), ...reportFields },
        { additionalProperties: false, title: 'about a part and a vehicle' },
      ),
      Type.Object(
        { part: PartId, otherPart: PartId, ...reportFields },
        { additionalProperties: false, title: 'about a part and another part' },
      ),
    ],
    {
      description: 'A report that a part fits a vehicle or another part, or does not.',
      examples: [
        {
          part: '01890a5d-ac96-774b-bcce-b302099a8057',
          vehicle: { make: 'Fennimark', model: 'Dorsel Two', yearFrom: 1962, yearTo: 1966 },
          result: 'fits-with-work',
          evidence: 'road-tested',
          work: 'Shorten the outer cable by 40 mm.',
          author: 'club adviser',
          date: '2026-05-17',
        },
      ],
    },
  ),
)

export type FitShape = Static<typeof FitInput>

export const SavedFit = shape('SavedFit', 'A stored fit report; it is never changed, only withdrawn.', {
  ...shared,
  part: PartId,
  vehicle: Type.Optional(
    ref(FitVehicle, 'The vehicles that the report is about; absent when it is about another part.'),
  ),
  otherPart: Type.Optional(PartId),
  ...reportFields,
  author: Type.String({ description: 'Author of the report.' }),
  date: Type.String({ format: 'date', description: 'When it was found.' }),
})

const about = {
  vehicle: Type.Optional(
    Type.Object(
      {
        make: Type.String({ description: 'Make, as first written.' }),
        model: Type.String({ description: 'Model, as first written.' }),
      },
      { additionalProperties: false, description: 'What the reports are about: vehicles of this model.' },
    ),
  ),
  otherPart: Type.Optional(
    ref(PartSummary, 'The other part that the reports are about; absent when they are about vehicles.'),
  ),
}

export const FitSearchAnswer = calculationAnswer(
  'FitSearchAnswer',
  'Fit reports by part; every report is stored and shown.',
  {
    parts: Type.Array(
      Type.Object(
        {
          part: ref(PartSummary, 'The part that the reports are about.'),
          fits: Type.Array(
            Type.Object(
              {
                ...about,
                support: plainOut(
                  'How far the reports support that it fits, with work or without: (1 + F)/(2 + F + A), where F and A are the sums over the authors of the weight of their best evidence for and against (road-tested 1, trial-fitted 0.75, measured 0.5, literature 0.5, hearsay 0.1). 0.5 when nothing is known.',
                ),
                supportAsIs: plainOut('The same for fitting without work: fits-with-work speaks against it.'),
                agreement: choice(['agree', 'differ-on-work', 'contradict'], {
                  description:
                    'contradict: some say that it fits and some that it does not. differ-on-work: all say that it fits, not all without work.',
                }),
                reports: listOf(SavedFit, 200, 'Every report, oldest first; the first 200.'),
                reportCount: Type.Integer({ description: 'How many there are.', 'x-dimensionless': true }),
              },
              { additionalProperties: false },
            ),
            {
              maxItems: 200,
              description:
                'One entry per model or other part that reports are about, best supported first; the first 200.',
            },
          ),
        },
        { additionalProperties: false },
      ),
      {
        maxItems: 200,
        description:
          'Best supported first within the page; pages go in the order in which the parts were recorded.',
      },
    ),
    next: Next,
  },
)

export const FitQuery = Type.Object(
  {
    ...PAGE_QUERY,
    make: Type.Optional(lineText(100, 'Only about this make, in any case.')),
    model: Type.Optional(lineText(100, 'Only about this model, in any case.')),
    year: Type.Optional(
      count({
        minimum: 1880,
        maximum: 2200,
        description:
          'Only about vehicles of this year; make or model too. A report without years holds every year.',
      }),
    ),
    kind: Type.Optional(PartKindChoice),
    part: Type.Optional(
      Type.String({ minLength: 1, maxLength: 100, description: 'Only about this part, on either side.' }),
    ),
  },
  { additionalProperties: false },
)
