import type { WorksheetShape } from '../schemas/worksheets.js'
import { figureText } from './numbers.js'
import { printable } from './printable.js'
import type { Block, Fact, Section, Sheet } from './sheet.js'
import { findings, remedies } from './worksheet-findings.js'
import { pathSection } from './worksheet-path.js'
import { type Input, type Path, STANDINGS, speedText, withUnit } from './worksheet-words.js'

function inputText(input: Input, paths: readonly Path[]): string {
  const { field, what, standing, length, perDistance, ratio, speed, percent, percentPlusMinus } = input
  // The field names the path, as in /paths/0/head/offset: use the unit of its dial.
  const unit = paths[Number(field.split('/')[2])]?.unit ?? 'kmh'
  const values = [
    length === undefined
      ? ''
      : `${withUnit(figureText(length.mm, length.plusMinus?.mm, 1), 'mm')}, ${withUnit(figureText(length.in, length.plusMinus?.in, 2), 'in')}`,
    perDistance === undefined
      ? ''
      : `${figureText(perDistance.perKm, perDistance.plusMinus?.perKm, 1)}/km, ${figureText(perDistance.perMile, perDistance.plusMinus?.perMile, 1)}/mile`,
    ratio === undefined ? '' : figureText(ratio.value, ratio.plusMinus, 4),
    speed === undefined ? '' : speedText(speed, unit),
    percent === undefined ? '' : `${figureText(percent, percentPlusMinus, 2)} %`,
  ].filter((text) => text !== '')
  return `${what}: ${values.join(', ')} (${STANDINGS[standing]})`
}

function basis({ measured, assumed, paths }: WorksheetShape): Section {
  const list = (inputs: readonly Input[], none: string): Block =>
    inputs.length === 0
      ? { kind: 'text', text: none }
      : { kind: 'list', items: inputs.map((input) => inputText(input, paths)), small: true }
  return {
    heading: 'Basis',
    blocks: [
      {
        kind: 'beside',
        leftPercent: 50,
        whole: false,
        left: [{ kind: 'text', text: 'Measured on this vehicle' }, list(measured, 'Nothing.')],
        right: [{ kind: 'text', text: 'Assumed' }, list(assumed, 'Nothing.')],
      },
    ],
  }
}

function vehicleFactsOf({ vehicle, rule, paths, revision, date, model }: WorksheetShape): Fact[] {
  const facts: Fact[] = []
  const add = (name: string, value: string | undefined) => {
    if (value !== undefined && value !== '') facts.push({ name, value })
  }
  add('Reference', vehicle.reference)
  add('Make', vehicle.make)
  add('Model', vehicle.model)
  add('Year', vehicle.year === undefined ? undefined : String(vehicle.year))
  add('Top speed', vehicle.topSpeed === undefined ? undefined : speedText(vehicle.topSpeed, paths[0]!.unit))
  add('Rule', `${rule.title} (${rule.id})`)
  add('Date', date)
  add(
    'Revision',
    revision === undefined
      ? 'not saved'
      : `${revision.version} of ${revision.changedAt.slice(0, 10)}, vehicle ${revision.id}`,
  )
  add('Computed by', `wheel-to-dial, model ${model}`)
  return facts
}

/** The page footer has one line. */
const shortened = (text: string) => (text.length > 60 ? `${text.slice(0, 59)}…` : text)

/** A worksheet as a printed sheet: its values as text, in the order of the page. */
export function worksheetSheet(worksheet: WorksheetShape): Sheet {
  const clean = printable(worksheet)
  const { vehicle, rule, paths, notes, references, date, model, revision } = clean
  const sections: Section[] = [
    { heading: 'Vehicle', blocks: [{ kind: 'facts', facts: vehicleFactsOf(clean) }] },
    findings(clean),
    ...paths.map((path) => pathSection(path, rule.title)),
    remedies(clean),
    {
      heading: 'Cautions and notes',
      blocks: [
        {
          kind: 'list',
          items: notes.map(({ level, text }) => `${level === 'caution' ? 'Caution: ' : ''}${text}`),
          small: true,
        },
      ],
    },
    basis(clean),
    {
      heading: 'Sources',
      blocks: [
        {
          kind: 'list',
          items: references.map(({ title, standing }) => `${title} (${STANDINGS[standing]})`),
          small: true,
        },
      ],
    },
  ]
  if (vehicle.notes !== undefined)
    sections.push({ heading: 'Notes on the vehicle', blocks: [{ kind: 'text', text: vehicle.notes }] })
  const version = revision === undefined ? '' : `, revision ${revision.version}`
  return {
    title: vehicle.name,
    subtitle: 'Speedometer worksheet, from wheel to dial',
    foot: `${shortened(vehicle.reference ?? vehicle.name)}${version}, ${date}, model ${model}`,
    date,
    sections,
  }
}
