import { getDocument } from 'unpdf/pdfjs'

/** A piece of text on a page: its left end and base line, from the upper left corner. */
export interface PdfItem {
  readonly text: string
  readonly leftPt: number
  readonly topPt: number
  readonly sizePt: number
}

export interface PdfPage {
  readonly widthPt: number
  readonly heightPt: number
  readonly text: string
  readonly items: readonly PdfItem[]
}

/** The pages of a PDF, read by a library that has nothing to do with the one that wrote it. */
export async function pdfPages(bytes: Uint8Array): Promise<PdfPage[]> {
  // It takes the bytes away from whoever hands them over.
  const task = getDocument({ data: Uint8Array.from(bytes), verbosity: 0 })
  const document = await task.promise
  const pages: PdfPage[] = []
  for (let number = 1; number <= document.numPages; number++) {
    const page = await document.getPage(number)
    const { items } = await page.getTextContent()
    const [, , widthPt = 0, heightPt = 0] = page.view
    const texts = items.flatMap((item): PdfItem[] => {
      if (!('str' in item)) return []
      const [, , , , leftPt, baseLine] = item.transform as number[]
      return [{ text: item.str, leftPt: leftPt!, topPt: heightPt - baseLine!, sizePt: item.height }]
    })
    pages.push({ widthPt, heightPt, text: texts.map(({ text }) => text).join(' '), items: texts })
  }
  await task.destroy()
  return pages
}

/** Text without blanks and marks of no width: lines are broken where the paper ends. */
export const solid = (text: string) => text.replaceAll(/[\s\u{200B}]/gu, '')

/** What a reader shows beside the pages: bookmarks, title and language. */
export async function pdfFrame(bytes: Uint8Array) {
  const task = getDocument({ data: Uint8Array.from(bytes), verbosity: 0 })
  const document = await task.promise
  const [outline, { info }, preferences] = await Promise.all([
    document.getOutline(),
    document.getMetadata(),
    document.getViewerPreferences(),
  ])
  await task.destroy()
  const { Title: title, Language: language } = info as Record<string, string>
  return {
    bookmarks: outline?.map((entry) => entry.title) ?? [],
    title,
    language,
    preferences: preferences,
  }
}
