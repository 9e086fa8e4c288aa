#include "daemon/records/print/attached.hpp"

#include <fmt/format.h>

#include <qpdf/Buffer.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEFStreamObjectHelper.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>

namespace stillmark::records {

RecordResult<AttachedFile> attached_to(const std::string& pdf) {
    try {
        QPDF document;
        document.setSuppressWarnings(true);
        document.processMemoryFile("the PDF", pdf.data(), pdf.size());
        auto files = QPDFEmbeddedFileDocumentHelper(document).getEmbeddedFiles();
        if (files.size() != 1)
            return RecordError{
                fmt::format("the PDF carries {} files, a certificate carries its digital one", files.size())};
        auto stream = QPDFEFStreamObjectHelper(files.begin()->second->getEmbeddedFileStream());
        const auto bytes = stream.getObjectHandle().getStreamData(qpdf_dl_specialized);
        return AttachedFile{files.begin()->second->getFilename(),
                            {reinterpret_cast<const char*>(bytes->getBuffer()), bytes->getSize()}};
    } catch (const std::exception& trouble) {
        return RecordError{fmt::format("the file cannot be read as a PDF: {}", trouble.what())};
    }
}

} // namespace stillmark::records
