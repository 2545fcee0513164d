"""What the book withstands: killed writers, full disks, damaged pages, journals gone or strange, several at once (`make reliability`)."""
