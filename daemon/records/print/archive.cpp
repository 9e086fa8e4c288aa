#include "daemon/records/print/archive.hpp"

#include "daemon/records/print/srgb_profile.hpp"
#include "daemon/records/print/typeface.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <ctime>
#include <qpdf/Buffer.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEFStreamObjectHelper.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>
#include <qpdf/QPDFObjectHandle.hh>
#include <qpdf/QPDFWriter.hh>

namespace stillmark::records::print {

namespace {

constexpr const char* producer = "cairo, qpdf";

std::tm utc_of(std::int64_t utc_us) {
    constexpr std::int64_t of_a_second = 1'000'000;
    return fmt::gmtime(static_cast<std::time_t>(utc_us / of_a_second));
}
std::string pdf_date(std::int64_t utc_us) {
    return fmt::format("D:{:%Y%m%d%H%M%S}Z", utc_of(utc_us));
}
std::string xmp_date(std::int64_t utc_us) {
    return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", utc_of(utc_us));
}

std::string escaped(const std::string& text) {
    std::string safe;
    for (const char c : printable(text)) {
        if (c == '&')
            safe += "&amp;";
        else if (c == '<')
            safe += "&lt;";
        else if (c == '>')
            safe += "&gt;";
        else
            safe += c;
    }
    return safe;
}

QPDFObjectHandle text_object(const std::string& text) {
    return QPDFObjectHandle::newUnicodeString(printable(text));
}

void describe(QPDF& pdf, const About& about) {
    auto info = QPDFObjectHandle::newDictionary();
    info.replaceKey("/Title", text_object(about.title));
    info.replaceKey("/Author", text_object(about.author));
    info.replaceKey("/Creator", text_object(about.creator));
    info.replaceKey("/Producer", text_object(producer));
    info.replaceKey("/CreationDate", QPDFObjectHandle::newString(pdf_date(about.made_utc_us)));
    info.replaceKey("/ModDate", QPDFObjectHandle::newString(pdf_date(about.made_utc_us)));
    pdf.getTrailer().replaceKey("/Info", pdf.makeIndirectObject(info));

    auto metadata = pdf.newStream(xmp_of(about));
    metadata.getDict().replaceKey("/Type", QPDFObjectHandle::newName("/Metadata"));
    metadata.getDict().replaceKey("/Subtype", QPDFObjectHandle::newName("/XML"));
    pdf.getRoot().replaceKey("/Metadata", metadata);
    pdf.getRoot().replaceKey("/Lang", QPDFObjectHandle::newString(code(about.language)));
    // The page is not marked up for its structure, which level B does not ask for.
    auto mark_info = QPDFObjectHandle::newDictionary();
    mark_info.replaceKey("/Marked", QPDFObjectHandle::newBool(false));
    pdf.getRoot().replaceKey("/MarkInfo", mark_info);
    auto preferences = QPDFObjectHandle::newDictionary();
    preferences.replaceKey("/DisplayDocTitle", QPDFObjectHandle::newBool(true));
    pdf.getRoot().replaceKey("/ViewerPreferences", preferences);
}

void state_colours(QPDF& pdf) {
    auto profile = pdf.newStream(srgb_profile());
    profile.getDict().replaceKey("/N", QPDFObjectHandle::newInteger(3));
    auto intent = QPDFObjectHandle::newDictionary();
    intent.replaceKey("/Type", QPDFObjectHandle::newName("/OutputIntent"));
    intent.replaceKey("/S", QPDFObjectHandle::newName("/GTS_PDFA1"));
    intent.replaceKey("/OutputConditionIdentifier", QPDFObjectHandle::newString("sRGB IEC 61966-2-1"));
    intent.replaceKey("/Info", QPDFObjectHandle::newString("sRGB IEC 61966-2-1"));
    intent.replaceKey("/DestOutputProfile", profile);
    pdf.getRoot().replaceKey("/OutputIntents", QPDFObjectHandle::newArray({pdf.makeIndirectObject(intent)}));
}

void attach(QPDF& pdf, const About& about, const Attachment& attachment) {
    auto stream = QPDFEFStreamObjectHelper::createEFStream(pdf, attachment.bytes);
    stream.setSubtype("text/xml");
    stream.setCreationDate(pdf_date(about.made_utc_us));
    stream.setModDate(pdf_date(about.made_utc_us));
    auto file = QPDFFileSpecObjectHelper::createFileSpec(pdf, printable(attachment.name), stream);
    file.setDescription(printable(attachment.description));
    file.getObjectHandle().replaceKey("/AFRelationship", QPDFObjectHandle::newName("/Data"));
    QPDFEmbeddedFileDocumentHelper(pdf).replaceEmbeddedFile(printable(attachment.name), file);
    pdf.getRoot().replaceKey("/AF", QPDFObjectHandle::newArray({file.getObjectHandle()}));
}

/// Two things that Cairo 1.16 leaves as ISO 19005-3, 6.2, does not want them: no image is smoothed by whoever shows it,
/// and an embedded TrueType font of many letters says which glyph belongs to which number.
void mend_what_cairo_wrote(QPDF& pdf) {
    for (QPDFObjectHandle& object : pdf.getAllObjects()) {
        if (object.isStream() && object.getDict().getKey("/Subtype").isNameAndEquals("/Image"))
            object.getDict().removeKey("/Interpolate");
        if (object.isDictionaryOfType("/Font", "/CIDFontType2") && !object.hasKey("/CIDToGIDMap"))
            object.replaceKey("/CIDToGIDMap", QPDFObjectHandle::newName("/Identity"));
    }
}

} // namespace

std::string xmp_of(const About& about) {
    return fmt::format(R"(<?xpacket begin="{}" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/"
    xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">
   <pdfaid:part>3</pdfaid:part>
   <pdfaid:conformance>B</pdfaid:conformance>
   <dc:format>application/pdf</dc:format>
   <dc:title><rdf:Alt><rdf:li xml:lang="x-default">{}</rdf:li></rdf:Alt></dc:title>
   <dc:creator><rdf:Seq><rdf:li>{}</rdf:li></rdf:Seq></dc:creator>
   <dc:language><rdf:Bag><rdf:li>{}</rdf:li></rdf:Bag></dc:language>
   <xmp:CreatorTool>{}</xmp:CreatorTool>
   <xmp:CreateDate>{}</xmp:CreateDate>
   <xmp:ModifyDate>{}</xmp:ModifyDate>
   <pdf:Producer>{}</pdf:Producer>
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="r"?>
)",
                       "\xEF\xBB\xBF", escaped(about.title), escaped(about.author), code(about.language),
                       escaped(about.creator), xmp_date(about.made_utc_us), xmp_date(about.made_utc_us), producer);
}

RecordResult<std::string> archived(const std::string& plain_pdf, const About& about, const Attachment& attachment) {
    try {
        QPDF pdf;
        pdf.setSuppressWarnings(true);
        pdf.processMemoryFile("certificate", plain_pdf.data(), plain_pdf.size());
        describe(pdf, about);
        state_colours(pdf);
        mend_what_cairo_wrote(pdf);
        if (!attachment.bytes.empty()) attach(pdf, about, attachment);
        QPDFWriter writer(pdf);
        writer.setOutputMemory();
        writer.setMinimumPDFVersion("1.7");
        writer.setObjectStreamMode(qpdf_o_generate);
        writer.setDeterministicID(true); // from the content alone
        writer.write();
        const std::shared_ptr<Buffer> bytes = writer.getBufferSharedPointer();
        return {boost::system::in_place_value, reinterpret_cast<const char*>(bytes->getBuffer()), bytes->getSize()};
    } catch (const std::exception& problem) {
        return RecordError{
            fmt::format("the printed certificate could not be made ready for the archive: {}; the digital "
                        "certificate is not touched by that",
                        problem.what())};
    }
}

} // namespace stillmark::records::print
