import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { dirname, join } from 'node:path'
import type { Content, ContentTable, TableCell, TDocumentDefinitions } from 'pdfmake/interfaces.js'
import type { PaperChoice } from '../schemas/worksheets.js'
import { coverageOf, covers } from './glyphs.js'
import { MISSING, pdfText } from './pdf-text.js'
import type { Block, Sheet } from './sheet.js'

type Of<K extends Block['kind']> = Extract<Block, { kind: K }>

/** Width of the paper in points. */
const PAPERS = { a4: { size: 'A4', width: 595.28 }, letter: { size: 'LETTER', width: 612 } } as const

const MARGIN = 28
const GAP = 9
/** Links of the drive chain per row. */
const LINKS_IN_ROW = 5

const POINTS_PER_MM = 72 / 25.4

/** Inner height of a field to fill in: 8 mm between the lines. */
const BLANK = 21

/** Room needed below a heading [pt]; with less it would be left alone at the foot of the page. */
const HEADING_ROOM = 112

const FONT = 'DejaVu Sans Condensed'
const FOLDER = join(dirname(createRequire(import.meta.url).resolve('dejavu-fonts-ttf/package.json')), 'ttf')
const FILES = {
  normal: join(FOLDER, 'DejaVuSansCondensed.ttf'),
  bold: join(FOLDER, 'DejaVuSansCondensed-Bold.ttf'),
}

/** Loaded with the first PDF, because the typesetter takes longer to load than the service to start. */
async function typesetter() {
  const { default: pdfmake } = await import('pdfmake')
  pdfmake.setFonts({ [FONT]: { ...FILES, italics: FILES.normal, bolditalics: FILES.bold } })
  pdfmake.setUrlAccessPolicy(() => false)
  pdfmake.setLocalAccessPolicy((path) => Object.values(FILES).includes(path))
  const fonts = Object.values(FILES).map((file) => coverageOf(readFileSync(file)))
  return { pdfmake, hasGlyph: (codePoint: number) => fonts.every((font) => covers(font, codePoint)) }
}

let loading: ReturnType<typeof typesetter> | undefined

const NO_BORDER: [boolean, boolean, boolean, boolean] = [false, false, false, false]
/** Padding above and below the content of a cell, in sum. */
const PADDING = 1.6

const GRID = {
  hLineWidth: () => 0.4,
  vLineWidth: () => 0.4,
  hLineColor: () => '#333',
  vLineColor: () => '#333',
  paddingLeft: () => 2,
  paddingRight: () => 2,
  paddingTop: () => PADDING / 2,
  paddingBottom: () => PADDING / 2,
}

/** A thick line below the header row. */
const HEADED = {
  ...GRID,
  hLineWidth: (line: number, { table }: ContentTable) => (line === table.headerRows ? 1 : 0.4),
}

/** The same without a line above the caption. */
const CAPTIONED = {
  ...HEADED,
  hLineWidth: (line: number, node: ContentTable) => (line === 0 ? 0 : HEADED.hLineWidth(line, node)),
}

type Write = ReturnType<typeof pdfText>

/** A table. A table that stays whole has its caption above it, where the caption does not widen the columns. */
function tableOf({ caption, columns, rows, rowMm }: Of<'table'>, write: Write, whole: boolean): Content {
  const title = { text: write.text(caption), bold: true }
  const captionRows: TableCell[][] = whole
    ? []
    : [
        columns.map((_, place) =>
          place === 0 ? { ...title, colSpan: columns.length, border: NO_BORDER } : {},
        ),
      ]
  const head = columns.map(
    ({ head: text, align }): TableCell => ({ text: write.text(text), bold: true, alignment: align }),
  )
  const headerRows = captionRows.length + 1
  const table: Content = {
    layout: whole ? HEADED : CAPTIONED,
    table: {
      headerRows,
      dontBreakRows: true,
      keepWithHeaderRows: 1,
      widths: columns.map(({ wide }) => (wide === true ? '*' : 'auto')),
      heights: (row: number) =>
        rowMm === undefined || row < headerRows ? 'auto' : rowMm * POINTS_PER_MM - PADDING,
      body: [
        ...captionRows,
        head,
        ...rows.map((row) =>
          row.map((text, place): TableCell => ({ text: write.text(text), alignment: columns[place]!.align })),
        ),
      ],
    },
  }
  return { stack: whole ? [title, table] : [table], fontSize: 7, margin: [0, 2, 0, 2] }
}

function chainOf({ caption, links }: Of<'chain'>, write: Write): Content {
  const arrow = (shown: boolean): TableCell => ({
    text: shown ? '▶' : '',
    border: NO_BORDER,
    alignment: 'center',
    verticalAlignment: 'middle',
  })
  const rows: Of<'chain'>['links'][] = []
  for (let at = 0; at < links.length; at += LINKS_IN_ROW) rows.push(links.slice(at, at + LINKS_IN_ROW))
  const perRow = Math.min(links.length, LINKS_IN_ROW)
  const rowOf = (row: Of<'chain'>['links'], index: number): Content => {
    const isLast = index === rows.length - 1
    const cells = Array.from({ length: perRow }, (_, place): TableCell[] => {
      const link = row[place]
      if (link === undefined) return [{ text: '', border: NO_BORDER }, arrow(false)]
      const { name, lines, flow } = link
      const box: TableCell = {
        stack: [
          { text: write.text(name), bold: true },
          ...lines.map((line) => ({ text: write.text(line) })),
          { text: write.text(flow.join('\n')), margin: [0, 1.5, 0, 0] },
        ],
      }
      return [box, arrow(!(isLast && place === row.length - 1))]
    })
    return {
      layout: GRID,
      fontSize: 7,
      margin: [0, 1, 0, 3],
      table: {
        dontBreakRows: true,
        widths: Array.from({ length: perRow }, () => ['*', 8]).flat(),
        body: [cells.flat()],
      },
    }
  }
  const [first, ...others] = rows.map(rowOf)
  const title = { text: write.text(caption), bold: true, fontSize: 7 }
  return { stack: [{ unbreakable: true, stack: [title, first!] }, ...others] }
}

function blanksOf({ names }: Of<'blanks'>): Content {
  const rows: string[][] = []
  for (let at = 0; at < names.length; at += 3) rows.push(names.slice(at, at + 3))
  const cell = (name = ''): TableCell => ({
    text: name === '' ? '' : `${name}:`,
    border: [false, false, false, name !== ''],
  })
  const gap: TableCell = { text: '', border: NO_BORDER }
  return {
    layout: GRID,
    unbreakable: true,
    table: {
      widths: ['*', GAP, '*', GAP, '*'],
      heights: BLANK,
      body: rows.map(([a, b, c]) => [cell(a), gap, cell(b), gap, cell(c)]),
    },
  }
}

function contentOf(block: Block, width: number, write: Write, whole = false): Content {
  switch (block.kind) {
    case 'facts':
      return {
        margin: [0, 1, 0, 1],
        text: block.facts.flatMap(({ name, value }) => [
          { text: `${name}: `, bold: true },
          ...write.text(value),
          '    ',
        ]),
      }
    case 'text':
      return { text: write.text(block.text), margin: [0, 1, 0, 1] }
    case 'list':
      return {
        ul: block.items.map((item) => ({ text: write.text(item) })),
        fontSize: block.small ? 6.5 : 7.5,
      }
    case 'table':
      return tableOf(block, write, whole)
    case 'chain':
      return chainOf(block, write)
    case 'drawing':
      return { svg: write.drawing(block.svg), width, margin: [0, 2, 0, 2] }
    case 'blanks':
      return blanksOf(block)
    case 'beside': {
      const left = ((width - GAP) * block.leftPercent) / 100
      const right = width - GAP - left
      const stack = (blocks: readonly Block[], of: number) => ({
        width: of,
        stack: blocks.map((one) => contentOf(one, of, write, block.whole)),
      })
      return {
        unbreakable: block.whole,
        stack: [{ columns: [stack(block.left, left), stack(block.right, right)], columnGap: GAP }],
      }
    }
  }
}

/** A sheet as a PDF: the same bytes for the same sheet. */
export async function pdfBytes(sheet: Sheet, paper: PaperChoice): Promise<Uint8Array> {
  loading ??= typesetter()
  const { pdfmake, hasGlyph } = await loading
  const write = pdfText(hasGlyph)
  const { size, width: paperWidth } = PAPERS[paper]
  const width = paperWidth - 2 * MARGIN
  const title = write.text(sheet.title)
  const sections = sheet.sections.flatMap(({ heading, blocks }): Content[] => [
    {
      text: write.text(heading),
      headlineLevel: 1,
      outline: true,
      outlineText: heading,
      bold: true,
      fontSize: 9,
      margin: [0, 5, 0, 1],
    },
    ...blocks.map((block) => contentOf(block, width, write)),
  ])
  const foot = write.text(sheet.foot)
  const missing: Content[] = write.replaced
    ? [
        {
          text: `Where this shows ${MISSING}, the font of the PDF has no such character: the HTML form shows it.`,
        },
      ]
    : []
  const definition: TDocumentDefinitions = {
    pageSize: size,
    pageMargins: [MARGIN, MARGIN, MARGIN, MARGIN + 6],
    defaultStyle: { font: FONT, fontSize: 7.5, lineHeight: 1.05, color: '#000' },
    info: { title: `${sheet.title}: ${sheet.subtitle}`, creationDate: new Date(`${sheet.date}T00:00:00Z`) },
    language: 'en',
    displayTitle: true,
    footer: (page, pages) => ({
      margin: [MARGIN, 8, MARGIN, 0],
      fontSize: 6.5,
      columns: [
        { text: foot, width: '*' },
        { text: `page ${page} of ${pages}`, width: 'auto', alignment: 'right' },
      ],
    }),
    pageBreakBefore: ({ headlineLevel, startPosition }, { getFollowingNodesOnPage }) =>
      headlineLevel === 1 &&
      ((1 - startPosition.verticalRatio) * startPosition.pageInnerHeight < HEADING_ROOM ||
        getFollowingNodesOnPage().every(({ text }) => text === undefined)),
    content: [{ text: title, bold: true, fontSize: 13 }, { text: sheet.subtitle }, ...missing, ...sections],
  }
  return pdfmake.createPdf(definition).getBuffer()
}
