"""x"""
def check_documents(d,s,f): pass
