import { parse } from 'csv-parse/sync'
import fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { cellsOf, column, MAX_ROWS, objectOf, readCsv, writeCsv } from '../../src/http/csv.js'
import { FIT_TABLE, fitRow, readFitTable } from '../../src/http/fit-table.js'
import { PART_TABLE, partRows, readPartTable } from '../../src/http/part-table.js'
import { ID_COLUMNS } from '../../src/http/tables.js'
import { readTireSizeTable, TIRE_SIZE_TABLE, tireSizeRow } from '../../src/http/tire-size-table.js'
import { anyFit, anyLine, anyLines, anyPart, anyTireSize } from '../support/parts.js'

const id = '01890a5d-ac96-774b-bcce-b302099a8057'
const otherId = '01890a5d-ac96-774b-bcce-b302099a8058'
const names = (columns: readonly { name: string }[]) => columns.map(({ name }) => name)
const stored = (content: object, version: number) => ({
  id,
  version,
  recordedBy: 'club',
  createdAtMs: 0,
  changedAtMs: 0,
  content: JSON.stringify(content),
})
/** A time slice that is over at once, so that every wait of a reading is taken. */
const nextSlice = async () => ({ isOver: () => true })

/** -0 is written 0, as JSON does. */
const plain = (value: unknown) => JSON.parse(JSON.stringify(value))

describe('import of an export gives the same', () => {
  test('parts, whatever their texts, numbers and interfaces', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(anyPart, { maxLength: 6 }), async (parts) => {
        const rows = parts.flatMap((part, index) => partRows({ id, version: index + 1, part }))
        const records = await readPartTable(writeCsv([names(PART_TABLE), ...rows]), nextSlice)
        expect(records.flatMap(({ faults }) => faults)).toEqual([])
        expect(records.map(({ value }) => value)).toEqual(plain(parts))
        expect(records.map((record) => [record.id, record.version])).toEqual(
          parts.map((_, index) => [id, index + 1]),
        )
      }),
      { numRuns: 300 },
    )
  })

  test('fit reports', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(anyFit(id, otherId), { maxLength: 6 }), async (fits) => {
        const header = names([...ID_COLUMNS, ...FIT_TABLE])
        const records = await readFitTable(
          writeCsv([header, ...fits.map((fit) => fitRow(stored(fit, 1)))]),
          nextSlice,
        )
        expect(records.flatMap(({ faults }) => faults)).toEqual([])
        expect(records.map(({ value }) => value)).toEqual(plain(fits))
      }),
      { numRuns: 300 },
    )
  })

  test('tire sizes', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(anyTireSize, { maxLength: 6 }), async (sizes) => {
        const header = names([...ID_COLUMNS, ...TIRE_SIZE_TABLE])
        const records = await readTireSizeTable(
          writeCsv([header, ...sizes.map((size) => tireSizeRow(stored(size, 1)))]),
          nextSlice,
        )
        expect(records.flatMap(({ faults }) => faults)).toEqual([])
        expect(records.map(({ value }) => value)).toEqual(plain(sizes))
      }),
      { numRuns: 300 },
    )
  })
})

describe('an exported table', () => {
  const columns = [column('text', 'a'), column('text', 'b')]

  test('gives a spreadsheet no text that it would take for a formula', () => {
    fc.assert(
      fc.property(fc.oneof(anyLine, anyLines), (text) => {
        const [cell] = cellsOf({ a: text }, columns)
        expect(cell).not.toMatch(/^[=+\-@\t\r\n＝＋－＠]/)
      }),
    )
  })

  // OWASP, "CSV Injection": cells that begin with = + - @, tab or carriage return.
  test.each(['=cmd()', '+1', '-1', '@a', '\tx', '\rx', "'=cmd()"])(
    'guards %j by a quote before it',
    (text) => {
      expect(cellsOf({ a: text }, columns)[0]).toBe(`'${text}`)
    },
  )

  test('reads the same in a plain RFC 4180 parser: lines end in CRLF, quotes are doubled', () => {
    expect(
      writeCsv([
        ['a', 'b'],
        ['x "y"', 'p,q'],
        ['line\r\nbreak', 'bare\rreturn'],
      ]),
    ).toBe('a,b\r\n"x ""y""","p,q"\r\n"line\r\nbreak","bare\rreturn"\r\n')
    fc.assert(
      fc.property(fc.array(fc.tuple(anyLines, anyLines), { minLength: 1 }), (rows) => {
        expect(parse(writeCsv(rows), { record_delimiter: '\r\n' })).toEqual(rows)
      }),
    )
  })

  test('guards no numbers, and writes them so that they read back as the same double', async () => {
    const number = [column('number', 'n')]
    await fc.assert(
      fc.asyncProperty(fc.double({ noNaN: true, noDefaultInfinity: true }), async (n) => {
        const [cell] = cellsOf({ n }, number)
        const [row] = await readCsv(`n\r\n${cell}\r\n`, number, nextSlice)
        expect(objectOf(row!, number)).toEqual({ value: { n: n === 0 ? 0 : n }, faults: [] })
      }),
    )
  })
})

async function refusal(reading: Promise<unknown>) {
  try {
    await reading
  } catch (error) {
    return error as Error & { code: string }
  }
  throw new Error('was read')
}

describe('readCsv(text, columns, nextSlice)', () => {
  const columns = [column('text', 'name'), column('number', 'teeth')]

  test.each([
    ['CRLF', 'name,teeth\r\nGear,21\r\n'],
    ['LF', 'name,teeth\nGear,21\n'],
    ['CR', 'name,teeth\rGear,21\r'],
    ['no line end at the end', 'name,teeth\nGear,21'],
    ['a byte order mark', '\ufeffname,teeth\nGear,21\n'],
    ['columns in another order', 'teeth,name\n21,Gear\n'],
    ['spaces around column names', ' name , teeth \nGear,21\n'],
    ['rows without any value', 'name,teeth\n,\n\n , \nGear,21\n,\n'],
    ['empty cells past the last column', 'name,teeth\nGear,21,,,\n'],
  ])('reads %s', async (_name, text) => {
    const rows = await readCsv(text, columns, nextSlice)
    expect(rows.map((row) => objectOf(row, columns))).toEqual([
      { value: { name: 'Gear', teeth: 21 }, faults: [] },
    ])
  })

  test('knows on which line each row begins, also past cells of several lines', async () => {
    const rows = await readCsv('name,teeth\r\n"a\r\nb",1\r\n\r\n"c\nd\ne",2\r\nf,3\r\n', columns, nextSlice)
    expect(rows.map(({ line }) => line)).toEqual([2, 5, 8])
  })

  test.each([
    ['an unknown column', 'name,tooth\nGear,21\n', 'column 2, "tooth", is not known'],
    ['a column twice', 'name,name\nGear,21\n', 'column name is there twice'],
    ['nothing', '', 'it is empty'],
    [
      'semicolons between the cells',
      'name;teeth\nGear;21\n',
      'separates its columns by semicolons. Save the table with commas',
    ],
    ['semicolons and quotes', '"name";"teeth"\r\n"Gear; 5";21\r\n', 'separates its columns by semicolons'],
    ['semicolons and unknown columns', '\ufeffnome;tooth\nGear;21\n', 'separates its columns by semicolons'],
    [
      'semicolons, and commas in a name',
      'name;teeth, driven\nGear;21\n',
      'separates its columns by semicolons',
    ],
    [
      'tabs between the cells',
      'name\tteeth\nGear\t21\n',
      'separates its columns by tabs. Save the table with commas',
    ],
    ['tabs and quotes', '"name"\t"teeth"\nGear\t21\n', 'separates its columns by tabs'],
    ['a quote inside a bare cell', 'name,teeth\n5" gear,21\n', 'line 2'],
    ['a quote that is not closed', 'name,teeth\n"Gear,21\n', 'double a quote inside a cell'],
    ['too many rows', `name,teeth\n${'Gear,21\n'.repeat(MAX_ROWS + 1)}`, `more than ${MAX_ROWS} rows`],
  ])('refuses %s', async (_name, text, detail) => {
    expect(await refusal(readCsv(text, columns, nextSlice))).toMatchObject({
      code: 'malformed-csv',
      message: expect.stringContaining(detail),
    })
  })

  // A column that was left out emptied its field.
  test('refuses a table that lacks columns where it has the one with which none may be left out', async () => {
    expect(await refusal(readCsv('name\nGear\n', columns, nextSlice, 'name'))).toMatchObject({
      code: 'malformed-csv',
      message: expect.stringContaining('add teeth'),
    })
    expect(await readCsv('teeth\n21\n', columns, nextSlice, 'name')).toHaveLength(1)
  })

  test('says of a short or a long row how many cells it has', async () => {
    const rows = await readCsv('name,teeth\nGear\nGear,21,7\n', columns, nextSlice)
    expect(rows.flatMap(({ faults }) => faults)).toMatchObject([
      { line: 2, code: 'wrong-length', detail: 'expected 2 cells as in the first line, got 1' },
      { line: 3, code: 'wrong-length', detail: 'expected 2 cells as in the first line, got 3' },
    ])
  })

  test.each(['x', '1,5', '0x10', '1 000', 'NaN', 'Infinity', '--1', '1e', '.'])(
    'takes %j for no number',
    async (cell) => {
      const [row] = await readCsv(`name,teeth\nGear,"${cell}"\n`, columns, nextSlice)
      const { value, faults } = objectOf(row!, columns)
      expect(value).toEqual({ name: 'Gear' })
      expect(faults).toMatchObject([{ line: 2, column: 'teeth', value: cell, code: 'wrong-type' }])
    },
  )
})

// Found 2026-11: a table of 4 MiB was parsed in one go, 100 ms on the thread of all callers.
test('a long table is read in as many time slices as it takes', async () => {
  const columns = [column('text', 'name')]
  const text = `name\n${`"${'é, '.repeat(300)}"\n`.repeat(1000)}`
  let waits = 0
  const counted = async () => {
    waits++
    return { isOver: () => true }
  }
  const rows = await readCsv(text, columns, counted)
  expect(rows.map((row) => objectOf(row, columns).value)).toEqual(
    Array(1000).fill({ name: 'é, '.repeat(300) }),
  )
  // At most 4 KiB are parsed in a slice, and then one row is read in each.
  expect(waits).toBeGreaterThan(Buffer.byteLength(text) / 4096 + 1000)
})

describe('readPartTable(text, nextSlice)', () => {
  test('a row whose part columns are empty is one more interface of the part above it', async () => {
    const [record] = await readPartTable(
      'kind,name,interface,gender,thread,form,sizeMm\ncable,Cable,thread,female,7/8-18,,\n,,shaft,male,,square,3.3\n',
      nextSlice,
    )
    expect(record!.value).toEqual({
      kind: 'cable',
      name: 'Cable',
      interfaces: [
        { kind: 'thread', gender: 'female', designation: '7/8-18' },
        { kind: 'shaft', gender: 'male', form: 'square', size: { mm: 3.3 } },
      ],
    })
  })

  test('finds the cell of a faulty field of a further interface', async () => {
    const [record] = await readPartTable(
      'kind,name,interface,gender,form,sizeMm\ncable,Cable,,,,\n,,shaft,male,square,3.3\n,,shaft,male,square,9999\n',
      nextSlice,
    )
    expect(record!.cell('#/interfaces/1/size/mm')).toEqual({ line: 4, column: 'sizeMm', value: '9999' })
    expect(record!.cell('#/interfaces/1/size')).toEqual({ line: 4, column: 'sizeMm', value: '9999' })
    expect(record!.cell('#/interfaces/0/teeth')).toEqual({ line: 3, column: 'splineTeeth', value: '' })
    expect(record!.cell('#/name')).toEqual({ line: 2, column: 'name', value: 'Cable' })
    expect(record!.cell('#/constant/perMile')).toEqual({ line: 2, column: 'constantPerMile', value: '' })
  })

  test('a cell that cannot be read makes its whole part invalid, also in a further row', async () => {
    const records = await readPartTable(
      'kind,name,interface,bolts,circleDiameterMm,boltHoleMm\nhub,A,bolt-circle,4,100,8\n,,bolt-circle,5,112,wide\nhub,B,,,,\n',
      nextSlice,
    )
    expect(records.map(({ faults }) => faults.length)).toEqual([1, 0])
    expect(records[0]!.faults[0]).toMatchObject({ line: 3, column: 'boltHoleMm', value: 'wide' })
  })

  test('the first row must be a part', async () => {
    expect(
      await refusal(readPartTable('kind,name,interface,gender,thread\n,,thread,female,7/8-18\n', nextSlice)),
    ).toMatchObject({
      code: 'table-not-stored',
      errors: [{ line: 2, column: 'name', code: 'missing' }],
    })
  })

  // Rows that were sorted by another column gave their interfaces to whatever part they came to stand below.
  test.each([
    ['the id of another part', `${id},A,\n${otherId},B,\n${id},,thread\n`, { line: 4, value: id }],
    ['no id, below a part that has one', `${id},A,\n,,thread\n`, { line: 3, value: '' }],
    ['an id, below a part that has none', `,A,\n${id},,thread\n`, { line: 3, value: id }],
  ])('refuses a further row with %s', async (_name, rows, at) => {
    expect(await refusal(readPartTable(`id,name,interface\n${rows}`, nextSlice))).toMatchObject({
      code: 'table-not-stored',
      errors: [{ ...at, column: 'id', code: 'mismatch' }],
    })
  })
})
